"""Spoilt photo files through opening and measuring: a sheet or one sentence, nothing else."""

import io
import json
import struct
import time

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from larvasight.desk.measuring import MeasureJob, measure_all
from larvasight.render import paint, random_scene
from larvasight.vision.scale import ScaleGuess

SECONDS_MOST = 10.0
WAITED_SECONDS_MOST = 60.0  # on a machine that does other things, too
SUFFIXES = (".jpg", ".png", ".webp", ".tif", ".heic")


def good_files():
    """One small comb in every format that is opened."""
    scene = random_scene(
        np.random.default_rng(5), size_px=(200, 160), pitch_px=62.0, tilt_deg=2.0, clean=True
    )
    image = Image.fromarray(paint(scene))
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)[0x9206] = 0.2
    files = {}
    for suffix, options in (
        (".jpg", {"format": "JPEG", "quality": 90, "exif": exif}),
        (".png", {"format": "PNG"}),
        (".webp", {"format": "WEBP"}),
        (".tif", {"format": "TIFF", "compression": "tiff_lzw"}),
    ):
        out = io.BytesIO()
        image.save(out, **options)
        files[suffix] = out.getvalue()
    out = io.BytesIO()
    pillow_heif.from_pillow(image).save(out, format="HEIF", quality=80)
    return files | {".heic": out.getvalue()}


def cut_off(data, rng):
    return data[: int(rng.integers(0, len(data)))]


def flipped(data, rng):
    spoilt = bytearray(data)
    last = len(data) if rng.random() < 0.5 else min(len(data), 400)
    for at in rng.integers(0, last, int(rng.choice([1, 4, 40]))):
        spoilt[at] ^= 1 << int(rng.integers(8))
    return bytes(spoilt)


def blotted(data, rng):
    start = int(rng.integers(0, len(data)))
    length = int(rng.integers(1, 2000))
    fill = bytes([int(rng.choice([0, 255]))]) * length
    return data[:start] + fill + data[start + length :]


def shuffled(data, rng):
    first, last = sorted(int(v) for v in rng.integers(0, len(data), 2))
    return data[last:] + data[first:last] + data[:first]


def doubled(data, rng):
    return data + data[: int(rng.integers(len(data)))]


def of_hostile_size(data, rng):
    """Write another width and height into the header."""
    side = [int(v) for v in rng.choice([0, 1, 31, 4_000, 16_000, 65_535, 2**31 - 1], 2)]
    if data.startswith(b"\x89PNG"):
        return data[:16] + struct.pack(">II", *side) + data[24:]
    start = data.find(b"\xff\xc0")
    if data.startswith(b"\xff\xd8") and start > 0:
        size = struct.pack(">HH", *(min(v, 65_535) for v in side))
        return data[: start + 5] + size + data[start + 9 :]
    start = data.find(b"ispe")
    if start > 0:
        return data[: start + 8] + struct.pack(">II", *side) + data[start + 16 :]
    if data.startswith(b"II*"):
        for tag in (256, 257):
            start = data.find(struct.pack("<H", tag), 4)
            data = data[: start + 8] + struct.pack("<I", side[tag - 256]) + data[start + 12 :]
        return data
    return flipped(data, rng)


def of_another_kind(data, rng):
    kinds = (
        b"",
        bytes(rng.integers(0, 256, 3000, dtype=np.uint8)),
        b"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>",
        b"GIF89a" + data[6:],
        b"BM" + data[2:],
        b"%PDF-1.7\n" + data,
        b"\xff\xd8\xff" + bytes(rng.integers(0, 256, 500, dtype=np.uint8)) + b"\xff\xd9",
        b"RIFF\xff\xff\xff\xffWEBPVP8X" + data[:300],
        b"../../../../etc/passwd\n" * 20,
    )
    return kinds[int(rng.integers(len(kinds)))]


SPOILERS = (cut_off, flipped, blotted, shuffled, doubled, of_hostile_size, of_another_kind)


def spoil(files, n, folder, seed):
    """Write ``n`` spoilt photos, some with a suffix that does not fit."""
    paths = []
    for number in range(n):
        rng = np.random.default_rng([seed, number])
        suffix = SUFFIXES[number % len(SUFFIXES)]
        data = SPOILERS[number % len(SPOILERS)](files[suffix], rng)
        shown = suffix if rng.random() < 0.8 else SUFFIXES[int(rng.integers(len(SUFFIXES)))]
        paths.append(folder / f"spoilt-{number:04d}{shown}")
        paths[-1].write_bytes(data)
    return paths


def measure_spoilt(n, seed, tmp_path, monkeypatch):
    photos, out, elsewhere = (tmp_path / name for name in ("photos", "out", "elsewhere"))
    for folder in (photos, elsewhere):
        folder.mkdir()
    monkeypatch.chdir(elsewhere)
    paths = spoil(good_files(), n, photos, seed)
    before = {path: path.read_bytes() for path in paths}
    job = MeasureJob(guess=ScaleGuess(), out=out)
    out.mkdir()
    outcomes, worked, waited = [], time.process_time(), time.perf_counter()
    for outcome in measure_all(paths, job):
        assert time.process_time() - worked < SECONDS_MOST, outcome.photo
        assert time.perf_counter() - waited < WAITED_SECONDS_MOST, outcome.photo
        outcomes.append(outcome)
        worked, waited = time.process_time(), time.perf_counter()
    written = {path for path in tmp_path.rglob("*") if path.is_file()}
    assert written == set(paths) | {o.written for o in outcomes if o.written is not None}
    assert all(o.written is None or o.written.parent == out for o in outcomes)
    assert {path: path.read_bytes() for path in paths} == before
    return outcomes


def assert_all_told(outcomes):
    for outcome in outcomes:
        if outcome.error is None:
            assert json.loads(outcome.written.read_text(encoding="utf-8"))["cells"]
        else:
            assert outcome.error.endswith("."), outcome.error
            assert "\n" not in outcome.error
            assert "Traceback" not in outcome.error


@pytest.mark.filterwarnings("default")
def test_forty_spoilt_files_are_measured_or_told_in_one_sentence(tmp_path, monkeypatch):
    outcomes = measure_spoilt(40, 7, tmp_path, monkeypatch)
    assert len(outcomes) == 40
    assert_all_told(outcomes)
    assert any(o.error is None for o in outcomes)
    assert sum(o.error is not None for o in outcomes) > 15


@pytest.mark.long
@pytest.mark.filterwarnings("default")
def test_a_thousand_spoilt_files_are_measured_or_told_in_one_sentence(tmp_path, monkeypatch):
    outcomes = measure_spoilt(1000, 8, tmp_path, monkeypatch)
    assert len(outcomes) == 1000
    assert_all_told(outcomes)

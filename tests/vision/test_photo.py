import hashlib
import os
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
import pytest
from numpy.testing import assert_allclose
from PIL import Image

from larvasight.errors import PhotoTooLargeError, PhotoTooSmallError, PhotoUnreadableError
from larvasight.vision import photo as photo_module
from larvasight.vision.photo import load_photo, photo_paths

RED, GREEN, BLUE, WHITE = (255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 255)
WIDTH_PX, HEIGHT_PX = 64, 48
# Lossy formats shift flat colours by a few grey levels.
ATOL = {"jpg": 6, "heic": 6, "webp": 0, "png": 0, "tif": 0}
SAVE = {"webp": {"lossless": True}}

# What is seen upright at top left, top right, bottom left and bottom right when a picture with
# red, green, blue and white in these corners is stored with each orientation. Worked out by
# hand from EXIF 2.32, table 6: "the 0th row is the visual ... and the 0th column the visual ...".
UPRIGHT = {
    1: (RED, GREEN, BLUE, WHITE),  # row 0 top, column 0 left
    2: (GREEN, RED, WHITE, BLUE),  # row 0 top, column 0 right
    3: (WHITE, BLUE, GREEN, RED),  # row 0 bottom, column 0 right
    4: (BLUE, WHITE, RED, GREEN),  # row 0 bottom, column 0 left
    5: (RED, BLUE, GREEN, WHITE),  # row 0 left, column 0 top
    6: (BLUE, RED, WHITE, GREEN),  # row 0 right, column 0 top
    7: (WHITE, GREEN, BLUE, RED),  # row 0 right, column 0 bottom
    8: (GREEN, WHITE, RED, BLUE),  # row 0 left, column 0 bottom
}


def four_colours():
    pixels = np.empty((HEIGHT_PX, WIDTH_PX, 3), np.uint8)
    half_rows, half_cols = HEIGHT_PX // 2, WIDTH_PX // 2
    pixels[:half_rows, :half_cols], pixels[:half_rows, half_cols:] = RED, GREEN
    pixels[half_rows:, :half_cols], pixels[half_rows:, half_cols:] = BLUE, WHITE
    return pixels


def corners(pixels):
    return [pixels[row, col] for row in (8, -9) for col in (8, -9)]


def exif(*, orientation=1, distance_m=None):
    notes = Image.Exif()
    notes[0x0112] = orientation
    if distance_m is not None:
        notes.get_ifd(0x8769)[0x9206] = distance_m
    return notes.tobytes()


def save(path, pixels=None, notes=None, **options):
    """Save with the format of the suffix; the pixels stay as stored, only noted as turned."""
    image = Image.fromarray(four_colours() if pixels is None else pixels)
    kind = path.suffix.removeprefix(".")
    if notes is not None:
        options["exif"] = notes
    if kind == "tif" and notes is not None:
        loaded = Image.Exif()  # the TIFF writer wants the notes parsed
        loaded.load(notes)
        options["exif"] = loaded
    if kind == "heic":
        pillow_heif.from_pillow(image).save(path, **options)
        return path
    image.save(path, **SAVE.get(kind, {}), **options)
    return path


def refusal(error, path):
    """Call load_photo, expect the error, and return its one sentence naming the file."""
    with pytest.raises(error) as caught:
        load_photo(path)
    sentence = str(caught.value)
    assert sentence.startswith(path.name)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert str(path.parent) not in sentence
    return sentence


@pytest.mark.parametrize("kind", list(ATOL))
@pytest.mark.parametrize("orientation", list(UPRIGHT))
def test_load_photo_turns_every_format_upright(tmp_path, kind, orientation):
    path = save(tmp_path / f"comb.{kind}", notes=exif(orientation=orientation))
    photo = load_photo(path)
    size = (WIDTH_PX, HEIGHT_PX) if orientation < 5 else (HEIGHT_PX, WIDTH_PX)
    assert (photo.width_px, photo.height_px) == size
    assert photo.pixels.shape == (size[1], size[0], 3)
    assert photo.pixels.dtype == np.uint8
    assert_allclose(corners(photo.pixels), UPRIGHT[orientation], rtol=0, atol=ATOL[kind])


def test_load_photo_heic_ignores_exif_orientation_without_a_rotation_in_the_container(tmp_path):
    notes = Image.Exif()
    notes.load(exif(orientation=6))
    pillow_heif.register_heif_opener()
    path = tmp_path / "comb.heic"
    Image.fromarray(four_colours()).save(path, exif=notes)
    assert_allclose(corners(load_photo(path).pixels), UPRIGHT[1], rtol=0, atol=ATOL["heic"])


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_load_photo_takes_an_impossible_orientation_as_upright(tmp_path, orientation):
    path = save(tmp_path / "comb.png", notes=exif(orientation=orientation))
    assert_allclose(corners(load_photo(path).pixels), UPRIGHT[1], rtol=0, atol=0)


@pytest.mark.parametrize("kind", list(ATOL))
def test_load_photo_reads_the_distance_back(tmp_path, kind):
    path = save(tmp_path / f"comb.{kind}", notes=exif(orientation=6, distance_m=0.18))
    assert load_photo(path).distance_mm == pytest.approx(180.0, abs=1e-3)


@pytest.mark.parametrize(
    ("distance_m", "distance_mm"),
    [(0.05, 50.0), (2.0, 2000.0), (0.049, None), (2.001, None), (0.0, None), (4294967295.0, None)],
)
def test_load_photo_keeps_only_a_sane_distance(tmp_path, distance_m, distance_mm):
    path = save(tmp_path / "comb.jpg", notes=exif(distance_m=distance_m))
    assert load_photo(path).distance_mm == (distance_mm and pytest.approx(distance_mm, abs=1e-6))


def test_load_photo_without_a_distance(tmp_path):
    assert load_photo(save(tmp_path / "comb.jpg")).distance_mm is None


def test_load_photo_reads_png_notes_that_follow_the_pixels(tmp_path):
    data = save(tmp_path / "a.png").read_bytes()
    notes = exif(orientation=6, distance_m=0.25).removeprefix(b"Exif\x00\x00")
    chunk = b"eXIf" + notes
    chunk = struct.pack(">I", len(notes)) + chunk + struct.pack(">I", zlib.crc32(chunk))
    path = tmp_path / "b.png"
    path.write_bytes(data[:-12] + chunk + data[-12:])
    photo = load_photo(path)
    assert_allclose(corners(photo.pixels), UPRIGHT[6], rtol=0, atol=0)
    assert photo.distance_mm == pytest.approx(250.0, abs=1e-3)


def test_load_photo_shows_a_good_picture_with_damaged_notes(tmp_path):
    path = save(tmp_path / "comb.jpg", notes=b"Exif\x00\x00MM\x00*\x00\x00\x00\x08\xff\xff\x01")
    photo = load_photo(path)
    assert_allclose(corners(photo.pixels), UPRIGHT[1], rtol=0, atol=ATOL["jpg"])
    assert photo.distance_mm is None


def test_load_photo_names_and_checks_the_file(tmp_path):
    path = save(tmp_path / "rähmchen 3.png")
    photo = load_photo(path)
    assert photo.name == "rähmchen 3.png"
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert not photo.pixels.flags.writeable


def test_load_photo_goes_by_content_not_suffix(tmp_path):
    path = save(tmp_path / "comb.heic").rename(tmp_path / "comb.JPG")
    assert_allclose(corners(load_photo(path).pixels), UPRIGHT[1], rtol=0, atol=ATOL["heic"])


def test_load_photo_equals_another_decoder(tmp_path):
    noise = np.random.default_rng(7).integers(0, 256, (HEIGHT_PX, WIDTH_PX, 3), dtype=np.uint8)
    path = save(tmp_path / "comb.jpg", noise, notes=exif(orientation=8), quality=90)
    other = cv2.imdecode(np.fromfile(path, np.uint8), cv2.IMREAD_COLOR_RGB)
    assert_allclose(load_photo(path).pixels, other, rtol=0, atol=0)


@pytest.mark.parametrize("suffix", [".png", ".tif"])
@pytest.mark.parametrize("shape", [(40, 50), (40, 50, 3)], ids=["grey", "colour"])
@pytest.mark.parametrize(("level", "expected"), [(0x8040, 128), (0xFFFF, 255), (0x00FF, 0)])
def test_load_photo_brings_16_bit_down_to_8(tmp_path, suffix, shape, level, expected):
    path = tmp_path / f"comb{suffix}"
    cv2.imencode(suffix, np.full(shape, level, np.uint16))[1].tofile(path)
    photo = load_photo(path)
    assert photo.pixels.shape == (40, 50, 3)
    assert_allclose(photo.pixels, expected, rtol=0, atol=0)


@pytest.mark.parametrize("mode", ["1", "L", "P"])
@pytest.mark.parametrize("suffix", [".png", ".tif"])
def test_load_photo_makes_grey_black_white_and_palette_into_rgb(tmp_path, mode, suffix):
    left, right = (RED, BLUE) if mode == "P" else ((0, 0, 0), WHITE)
    image = Image.new("RGB", (40, 40), left)
    image.paste(right, (20, 0, 40, 40))
    path = tmp_path / f"comb{suffix}"
    (image.quantize(4) if mode == "P" else image.convert(mode)).save(path)
    pixels = load_photo(path).pixels
    assert pixels.shape == (40, 40, 3)
    assert_allclose(pixels[20, [5, 35]], [left, right], rtol=0, atol=0)


def test_load_photo_reads_a_grey_jpeg(tmp_path):
    path = tmp_path / "comb.jpg"
    Image.new("L", (40, 40), 90).save(path)
    assert_allclose(load_photo(path).pixels, 90, rtol=0, atol=1)


def test_load_photo_reads_a_cmyk_jpeg(tmp_path):
    path = tmp_path / "comb.jpg"
    Image.fromarray(four_colours()).convert("CMYK").save(path, quality=95)
    assert_allclose(corners(load_photo(path).pixels), UPRIGHT[1], rtol=0, atol=ATOL["jpg"])


@pytest.mark.parametrize("suffix", [".png", ".webp", ".tif", ".heic"])
def test_load_photo_puts_see_through_parts_on_middle_grey(tmp_path, suffix):
    pixels = np.zeros((40, 40, 4), np.uint8)
    pixels[:, 20:] = (200, 100, 50, 255)
    path = save(tmp_path / f"comb{suffix}", pixels)
    seen = load_photo(path).pixels[20, [5, 35]]
    assert_allclose(seen, [(128, 128, 128), (200, 100, 50)], rtol=0, atol=ATOL[suffix[1:]])


@pytest.mark.parametrize("suffix", [".png", ".webp", ".tif"])
def test_load_photo_mixes_half_transparent_parts_with_middle_grey(tmp_path, suffix):
    pixels = np.full((40, 40, 4), (200, 100, 50, 128), np.uint8)
    seen = load_photo(save(tmp_path / f"comb{suffix}", pixels)).pixels[20, 20]
    share = 128 / 255
    mixed = share * np.array([200, 100, 50]) + (1 - share) * 128
    assert_allclose(seen, mixed, rtol=0, atol=1)


def test_load_photo_puts_a_see_through_palette_on_middle_grey(tmp_path):
    image = Image.new("P", (40, 40), 1)
    image.putpalette([0, 0, 0, 200, 100, 50])
    image.paste(0, (0, 0, 20, 40))
    path = tmp_path / "comb.png"
    image.save(path, transparency=bytes([0, 255]))
    seen = load_photo(path).pixels[20, [5, 35]]
    assert_allclose(seen, [(128, 128, 128), (200, 100, 50)], rtol=0, atol=0)


@pytest.mark.parametrize("suffix", [".tif", ".webp"])
def test_load_photo_takes_the_first_of_several_pictures(tmp_path, suffix):
    path = tmp_path / f"comb{suffix}"
    first, second = Image.new("RGB", (40, 40), RED), Image.new("RGB", (40, 40), BLUE)
    first.save(path, save_all=True, append_images=[second], **SAVE.get(suffix[1:], {}))
    assert_allclose(load_photo(path).pixels[20, 20], RED, rtol=0, atol=0)


def test_load_photo_missing_file(tmp_path):
    assert "does not exist" in refusal(PhotoUnreadableError, tmp_path / "comb.jpg")


def test_load_photo_folder(tmp_path):
    assert "folder" in refusal(PhotoUnreadableError, tmp_path)


def test_load_photo_without_permission(tmp_path, monkeypatch):
    path = save(tmp_path / "comb.png")

    def refuse(_self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert "permission denied" in refusal(PhotoUnreadableError, path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_load_photo_never_waits_for_a_pipe(tmp_path):
    path = tmp_path / "comb.jpg"
    os.mkfifo(path)
    assert "not a file" in refusal(PhotoUnreadableError, path)


def test_load_photo_name_too_long(tmp_path):
    with pytest.raises(PhotoUnreadableError, match="cannot be read"):
        load_photo(tmp_path / ("a" * 300 + ".jpg"))


def test_load_photo_empty_file(tmp_path):
    path = tmp_path / "comb.jpg"
    path.touch()
    assert "empty" in refusal(PhotoUnreadableError, path)


@pytest.mark.parametrize("data", [b"These are notes.\n", b"\xff", b"\x00" * 500, b"GIF89a" * 9])
def test_load_photo_no_picture(tmp_path, data):
    path = tmp_path / "comb.jpg"
    path.write_bytes(data)
    assert "not a JPEG" in refusal(PhotoUnreadableError, path)


def noisy(path, **options):
    noise = np.random.default_rng(3).integers(0, 256, (96, 128, 3), dtype=np.uint8)
    return save(path, noise, **options)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.7, 0.99])
@pytest.mark.parametrize("kind", list(ATOL))
def test_load_photo_truncated_file(tmp_path, kind, share, capfd):
    path = noisy(tmp_path / f"comb.{kind}")
    data = path.read_bytes()
    path.write_bytes(data[: max(16, int(len(data) * share))])
    sentence = refusal(PhotoUnreadableError, path)
    assert "cut off" in sentence or "damaged" in sentence
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("progressive", [False, True], ids=["baseline", "progressive"])
@pytest.mark.parametrize("lost", ["missing", "zeros"])
def test_load_photo_jpeg_whose_end_is_lost_is_cut_off(tmp_path, progressive, lost):
    preview = Image.Exif()
    preview[0x010E] = "a preview in the header ends too \xff\xd9"
    path = noisy(tmp_path / "comb.jpg", notes=preview.tobytes(), progressive=progressive)
    data = path.read_bytes()
    keep = len(data) // 2
    path.write_bytes(data[:keep] + (bytes(len(data) - keep) if lost == "zeros" else b""))
    assert "cut off" in refusal(PhotoUnreadableError, path)


@pytest.mark.parametrize("progressive", [False, True], ids=["baseline", "progressive"])
def test_load_photo_jpeg_followed_by_something_else_is_whole(tmp_path, progressive):
    path = noisy(tmp_path / "comb.jpg", progressive=progressive, restart_marker_blocks=4)
    whole = load_photo(path).pixels
    path.write_bytes(path.read_bytes() + b"a film of the same \xff\xda moment" * 100)
    assert_allclose(load_photo(path).pixels, whole, rtol=0, atol=0)


def sentence_or_none(path):
    """Call load_photo; only the errors a person can act on may come back."""
    try:
        load_photo(path)
    except (PhotoUnreadableError, PhotoTooLargeError, PhotoTooSmallError) as error:
        return str(error)
    return None


@pytest.mark.parametrize("compression", [None, "tiff_lzw", "tiff_deflate", "jpeg"])
def test_load_photo_damaged_bytes_of_a_compressed_tiff(tmp_path, compression, capfd):
    data = save(tmp_path / "whole.tif", compression=compression).read_bytes()
    damage(data, tmp_path / "comb.tif", capfd)


@pytest.mark.parametrize("kind", list(ATOL))
def test_load_photo_never_raises_anything_else_on_damaged_bytes(tmp_path, kind, capfd):
    data = save(tmp_path / f"whole.{kind}", notes=exif(distance_m=0.2)).read_bytes()
    damage(data, tmp_path / f"comb.{kind}", capfd)


def damage(data, path, capfd):
    """Change a few bytes, or lose the end, many times over, and look for noise and surprises."""
    rng = np.random.default_rng(11)
    for _ in range(40):
        bad = np.frombuffer(data, np.uint8).copy()
        places = rng.integers(12, len(bad), 6)
        bad[places] = rng.integers(0, 256, 6)
        end = len(bad) if rng.random() < 0.7 else rng.integers(16, len(bad))
        path.write_bytes(bad[:end].tobytes())
        sentence = sentence_or_none(path)
        assert sentence is None or sentence.startswith(path.name)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("size", [(1, 1), (31, 400), (400, 31)])
@pytest.mark.parametrize("suffix", [".png", ".jpg"])
def test_load_photo_too_few_pixels(tmp_path, size, suffix):
    path = tmp_path / f"comb{suffix}"
    Image.new("RGB", size).save(path)
    assert f"{size[0]} x {size[1]} pixels" in refusal(PhotoTooSmallError, path)


def test_load_photo_with_just_enough_pixels(tmp_path):
    path = tmp_path / "comb.png"
    Image.new("RGB", (32, 32)).save(path)
    assert load_photo(path).pixels.shape == (32, 32, 3)


def with_size(path, width_px, height_px):
    """Rewrite the size in the header of a PNG or JPEG, leaving the pixels as they are."""
    data = bytearray(path.read_bytes())
    if path.suffix == ".png":
        data[16:24] = struct.pack(">II", width_px, height_px)
        data[29:33] = struct.pack(">I", zlib.crc32(data[12:29]))
    else:
        frame = data.index(b"\xff\xc0")
        data[frame + 5 : frame + 9] = struct.pack(">HH", height_px, width_px)
    path.write_bytes(data)


@pytest.mark.parametrize("suffix", [".png", ".jpg"])
@pytest.mark.parametrize(("width_px", "height_px"), [(60000, 60000), (12000, 10001), (15000, 9000)])
def test_load_photo_refuses_a_huge_picture_by_its_header(
    tmp_path, suffix, width_px, height_px, monkeypatch
):
    path = save(tmp_path / f"comb{suffix}")
    with_size(path, width_px, height_px)
    monkeypatch.setattr(photo_module, "_decode", None)
    assert "megapixels" in refusal(PhotoTooLargeError, path)


def test_load_photo_refuses_a_huge_file_unread(tmp_path, monkeypatch):
    path = tmp_path / "comb.tif"
    with path.open("wb") as file:
        file.truncate(400_000_001)
    monkeypatch.setattr(Path, "read_bytes", None)
    assert "400 MB" in refusal(PhotoTooLargeError, path)


def test_load_photo_refuses_pixels_that_are_fractions(tmp_path):
    path = tmp_path / "comb.tif"
    Image.fromarray(np.full((40, 40), 0.5, np.float32)).save(path)
    refusal(PhotoUnreadableError, path)


def test_photo_paths_lists_a_folder_by_name_and_known_suffix(tmp_path):
    names = ["b.JPG", "A.jpeg", "c.heic", "notes.txt", "._c.heic", "d.tiff", "comb.json"]
    for name in names:
        (tmp_path / name).touch()
    (tmp_path / "more.png").mkdir()
    (tmp_path / "deeper").mkdir()
    (tmp_path / "deeper" / "e.png").touch()
    assert [path.name for path in photo_paths([tmp_path])] == [
        "A.jpeg",
        "b.JPG",
        "c.heic",
        "d.tiff",
    ]


def test_photo_paths_keeps_files_as_given_and_each_once(tmp_path):
    (tmp_path / "a.png").touch()
    odd, missing = tmp_path / "odd.xyz", tmp_path / "missing.png"
    odd.touch()
    given = [missing, odd, tmp_path, tmp_path / "a.png"]
    assert photo_paths(given) == [missing, odd, tmp_path / "a.png"]


def test_photo_paths_does_not_follow_links_out_of_a_folder(tmp_path):
    inside, outside = tmp_path / "inside", tmp_path / "outside"
    inside.mkdir()
    outside.mkdir()
    (inside / "a.png").touch()
    (outside / "b.png").touch()
    (inside / "out.png").symlink_to(outside / "b.png")
    (inside / "broken.png").symlink_to(outside / "none.png")
    (inside / "loop.png").symlink_to(inside / "loop.png")
    assert photo_paths([inside]) == [inside / "a.png"]


def test_photo_paths_of_nothing():
    assert photo_paths([]) == []


def test_photo_paths_unreadable_folder_is_one_sentence(tmp_path, monkeypatch):
    def refuse(_self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    with pytest.raises(PhotoUnreadableError, match=f"^The folder {tmp_path.name} cannot be read"):
        photo_paths([tmp_path])


def noted(tmp_path, notes, size=(400, 300)):
    exif = Image.Exif()
    exif.get_ifd(0x8769).update(notes)
    path = tmp_path / "noted.jpg"
    Image.new("RGB", size, (90, 80, 60)).save(path, exif=exif)
    return load_photo(path)


@pytest.mark.reference(
    "EXIF 2.3: FocalLengthIn35mmFilm; film of 36 x 24 mm has a diagonal of 43.27 mm"
)
def test_focal_length_is_told_in_px(tmp_path):
    photo = noted(tmp_path, {0xA405: 26, 0xA002: 400, 0xA003: 300})
    assert photo.focal_px == pytest.approx(26.0 * 500.0 / 43.267, rel=1e-4)


@pytest.mark.parametrize(
    "notes",
    [
        {},
        {0xA405: 26},
        {0xA405: 0, 0xA002: 400, 0xA003: 300},
        {0xA405: 26, 0xA002: 4000, 0xA003: 3000},
        {0xA405: 26, 0xA002: 400, 0xA003: 300, 0xA404: 2.0},
    ],
)
def test_a_focal_length_of_a_cut_or_zoomed_picture_tells_nothing(tmp_path, notes):
    assert noted(tmp_path, notes).focal_px is None

"""Own photos: kept only when they can be used, found again, and summed up in plain words."""

import hashlib
from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace

import numpy as np
import pytest

from larvasight.desk import own_photos
from larvasight.desk.own_photos import (
    forget_photo,
    keep_photo,
    kept_path,
    measure_again,
    open_kept,
    sum_up,
)
from larvasight.errors import (
    NoCombError,
    OutputFolderError,
    PhotoChangedError,
    PhotoUnreadableError,
)
from larvasight.grading import Limits, grade_sheet
from larvasight.records.store import Store
from larvasight.render import save_picture
from larvasight.sheet import (
    Cell,
    Content,
    Flag,
    Grade,
    LatticeInfo,
    PhotoInfo,
    Scale,
    ScaleSource,
    Sheet,
    sheet_from_json,
)
from larvasight.vision.photo import load_photo
from larvasight.vision.scale import ScaleGuess

NOW = datetime(2026, 5, 20, 8, 30, tzinfo=UTC)
GIVEN = ScaleGuess(pitch_mm=5.0, source=ScaleSource.GIVEN)
STRICT = Limits(young_h=0.0, best_young_h=0.0, best_old_h=1.0, old_h=2.0)


def cell(content, **changes):
    values = {"row": 0, "col": 0, "centre_xy_px": (20.0, 20.0), "px_per_mm": 10.0}
    return Cell(content=content, **(values | changes))


def larva(grade=None, **changes):
    return cell(Content.LARVA, grade=grade, **changes)


def sheet_of(cells, *, name="comb.png", sha256="", pitch_mm=5.3, source=ScaleSource.COMB):
    return Sheet(
        truth=False,
        photo=PhotoInfo(name=name, width_px=64, height_px=48, sha256=sha256),
        scale=Scale(
            pitch_px=53.0,
            pitch_mm=pitch_mm,
            px_per_mm=10.0,
            distance_mm=None,
            source=source,
        ),
        lattice=LatticeInfo(row_angle_deg=0.0, n_cells=len(cells), residual_px=0.0),
        cells=tuple(cells),
    )


@pytest.fixture
def data(tmp_path):
    return tmp_path / "data"


@pytest.fixture
def store(data):
    with Store.open(data / "records.db", now=NOW) as opened:
        yield opened


@pytest.fixture
def picture(tmp_path):
    pixels = np.random.default_rng(2).integers(0, 255, (48, 64, 3), dtype=np.uint8)
    save_picture(tmp_path / "brood.png", pixels, None)
    return tmp_path / "brood.png"


@pytest.fixture(autouse=True)
def measured(monkeypatch):
    """Find one larva in every picture, as large as the cell size says; remember the calls."""
    calls = []

    class FakeMeasurer:
        def __init__(self, *, guess, limits):
            self.guess, self.limits = guess, limits

        def measure_loaded(self, photo, by_hand=None):
            assert by_hand is None
            calls.append((photo.name, self.guess, self.limits))
            found = larva(length_mm=0.4 * self.guess.pitch_mm, curl_deg=170.0)
            sheet = sheet_of(
                [found],
                name=photo.name,
                sha256=photo.sha256,
                pitch_mm=self.guess.pitch_mm,
                source=self.guess.source,
            )
            return grade_sheet(sheet, self.limits)

    monkeypatch.setattr(own_photos, "Measurer", FakeMeasurer)
    return calls


@pytest.fixture
def keep(store, data):
    def _keep(path, *, guess=None, limits=None, now=NOW):
        return keep_photo(
            store, data, path, guess=guess or ScaleGuess(), limits=limits or Limits(), now=now
        )

    return _keep


def files_in(folder):
    return sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []


# Keeping and finding again.


def test_a_photo_is_kept_under_its_checksum_with_its_sheet(keep, store, data, picture):
    found = keep(picture)
    sha256 = hashlib.sha256(picture.read_bytes()).hexdigest()
    (kept,) = store.photos()
    assert (kept.sha256, kept.name, kept.suffix) == (sha256, "brood.png", ".png")
    assert kept.added_at_utc == NOW
    assert kept_path(data, kept) == data / "photos" / f"{sha256}.png"
    assert kept_path(data, kept).read_bytes() == picture.read_bytes()
    assert sheet_from_json(store.photo_sheet(sha256)).photo == found.sheet.photo
    assert np.array_equal(found.pixels, load_photo(picture).pixels)


def test_a_photo_opened_twice_is_one_photo(keep, store, data, picture):
    keep(picture)
    keep(picture, guess=GIVEN, now=NOW.replace(hour=10))
    (kept,) = store.photos()
    assert kept.added_at_utc == NOW
    assert len(files_in(data / "photos")) == 1
    # The newer measurement counts.
    assert sheet_from_json(store.photo_sheet(kept.sha256)).scale.pitch_mm == 5.0


def test_a_photo_opened_again_keeps_the_cell_size_that_a_ruler_told(keep, store, data, picture):
    keep(picture)
    (kept,) = store.photos()
    ruler = ScaleGuess(pitch_mm=4.93, source=ScaleSource.RULER)
    measure_again(store, data, kept, guess=ruler, limits=Limits())
    keep(picture)
    scale = sheet_from_json(store.photo_sheet(kept.sha256)).scale
    assert (scale.pitch_mm, scale.source) == (4.93, ScaleSource.RULER)
    keep(picture, guess=GIVEN)
    assert sheet_from_json(store.photo_sheet(kept.sha256)).scale.pitch_mm == 5.0


def test_who_stopped_meanwhile_finds_all_as_it_was(keep, store, data, picture):
    asked = {"store": store, "limits": Limits(), "is_wanted": lambda: False}
    keep_photo(data=data, path=picture, guess=ScaleGuess(), now=NOW, **asked)
    assert store.photos() == []
    keep(picture)
    (kept,) = store.photos()
    before = store.photo_sheet(kept.sha256)
    measure_again(data=data, photo=kept, guess=GIVEN, **asked)
    assert store.photo_sheet(kept.sha256) == before


def test_a_copy_that_became_another_picture_is_told_and_never_shown(keep, store, data, picture):
    keep(picture)
    (kept,) = store.photos()
    pixels = load_photo(picture).pixels
    save_picture(kept_path(data, kept), np.ascontiguousarray(pixels[:, ::-1]), None)
    for act in (
        lambda: open_kept(store, data, kept, limits=Limits()),
        lambda: measure_again(store, data, kept, guess=GIVEN, limits=Limits()),
    ):
        with pytest.raises(PhotoChangedError, match=r"brood\.png was changed or damaged"):
            act()


@pytest.mark.parametrize("error", [NoCombError("No comb."), PhotoUnreadableError("No picture.")])
def test_a_photo_that_cannot_be_used_leaves_nothing(keep, store, data, picture, monkeypatch, error):
    def refuse(**_kwargs):
        def measure(_photo, _by_hand):
            raise error

        return SimpleNamespace(measure_loaded=measure)

    monkeypatch.setattr(own_photos, "Measurer", refuse)
    with pytest.raises(type(error)):
        keep(picture)
    assert store.photos() == []
    assert files_in(data / "photos") == []


def test_a_photo_that_cannot_be_copied_is_not_remembered(keep, store, data, picture):
    (data / "photos").write_text("A file where the folder should be.", encoding="utf-8")
    with pytest.raises(OutputFolderError):
        keep(picture)
    assert store.photos() == []


@pytest.mark.parametrize("change", ["written anew", "gone"])
def test_a_photo_is_kept_as_it_was_measured(keep, store, data, picture, monkeypatch, change):
    measure = own_photos.Measurer.measure_loaded
    before = picture.read_bytes()

    def measure_and_change(measurer, photo, by_hand=None):
        found = measure(measurer, photo, by_hand)
        if change == "gone":
            picture.unlink()
        else:
            picture.write_bytes(b"another photo")
        return found

    monkeypatch.setattr(own_photos.Measurer, "measure_loaded", measure_and_change)
    keep(picture)
    (kept,) = store.photos()
    assert kept.sha256 == hashlib.sha256(before).hexdigest()
    assert kept_path(data, kept).read_bytes() == before


@pytest.mark.parametrize("content", [b"", b"half of it"])
@pytest.mark.parametrize("name", ["brood.png", "brood.webp"])
def test_a_damaged_copy_is_made_anew(keep, store, data, picture, tmp_path, content, name):
    keep(picture)
    (kept,) = store.photos()
    kept_path(data, kept).write_bytes(content)
    other = tmp_path / "other" / name
    other.parent.mkdir()
    other.write_bytes(picture.read_bytes())
    keep(other)
    assert kept_path(data, kept).read_bytes() == picture.read_bytes()
    assert store.photos() == [kept]


@pytest.mark.parametrize(
    ("name", "suffix"),
    [
        ("brood.PNG", ".png"),
        ("brood.JPEG", ".jpeg"),
        ("brood", ".jpg"),
        ("brood.backup-1", ".jpg"),
        ("brood.2026-05-20", ".jpg"),
        ("brood.\N{LATIN SMALL LETTER E WITH ACUTE}t\N{LATIN SMALL LETTER E WITH ACUTE}", ".jpg"),
    ],
)
def test_whatever_the_ending_a_photo_is_kept_and_opened(
    keep, store, data, picture, tmp_path, name, suffix
):
    other = tmp_path / "other" / name
    other.parent.mkdir()
    other.write_bytes(picture.read_bytes())
    keep(other)
    (kept,) = store.photos()
    assert (kept.name, kept.suffix) == (name, suffix)
    assert open_kept(store, data, kept, limits=Limits()).sheet.photo.name == name


def test_a_kept_photo_is_opened_without_measuring_and_judged_by_todays_ages(
    keep, store, data, picture, measured
):
    found = keep(picture)
    (kept,) = store.photos()
    measured.clear()
    again = open_kept(store, data, kept, limits=Limits())
    strict = open_kept(store, data, kept, limits=STRICT)
    assert measured == []
    assert np.array_equal(again.pixels, found.pixels)
    assert [c.grade for c in again.sheet.cells] == [c.grade for c in found.sheet.cells]
    assert strict.sheet == grade_sheet(again.sheet, STRICT)
    assert {c.grade for c in strict.sheet.cells} == {Grade.TOO_OLD}
    assert Grade.TOO_OLD not in {c.grade for c in again.sheet.cells}


def test_a_kept_photo_without_a_sheet_is_measured(keep, store, data, picture, measured):
    keep(picture)
    (kept,) = store.photos()
    store.set_photo_sheet(kept.sha256, None)
    measured.clear()
    opened = open_kept(store, data, kept, limits=STRICT)
    assert measured == [(kept_path(data, kept).name, ScaleGuess(), STRICT)]
    assert opened.sheet.cells
    assert store.photo_sheet(kept.sha256) is not None


def test_a_kept_photo_whose_file_is_gone_cannot_be_opened(keep, store, data, picture):
    keep(picture)
    (kept,) = store.photos()
    kept_path(data, kept).unlink()
    with pytest.raises(PhotoUnreadableError):
        open_kept(store, data, kept, limits=Limits())


def test_another_cell_size_is_remembered(keep, store, data, picture):
    before = keep(picture).sheet
    (kept,) = store.photos()
    after = measure_again(store, data, kept, guess=GIVEN, limits=Limits()).sheet
    ratio = after.cells[0].length_mm / before.cells[0].length_mm
    assert ratio == pytest.approx(5.0 / before.scale.pitch_mm, abs=1e-6)
    stored = sheet_from_json(store.photo_sheet(kept.sha256))
    assert stored.scale.pitch_mm == 5.0


def test_a_forgotten_photo_leaves_no_copy(keep, store, data, picture, tmp_path):
    keep(picture)
    (kept,) = store.photos()
    # Another copy of the same photo, as earlier versions made.
    kept_path(data, kept).with_suffix(".webp").write_bytes(picture.read_bytes())
    pixels = np.zeros((48, 64, 3), np.uint8)
    save_picture(tmp_path / "second.png", pixels, None)
    keep(tmp_path / "second.png")
    forget_photo(store, data, kept)
    (left,) = store.photos()
    assert left.name == "second.png"
    assert files_in(data / "photos") == [f"{left.sha256}.png"]
    assert picture.is_file()


def test_a_photo_whose_file_is_gone_can_be_forgotten(keep, store, data, picture):
    keep(picture)
    (kept,) = store.photos()
    kept_path(data, kept).unlink()
    forget_photo(store, data, kept)
    assert store.photos() == []


# Summed up.


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ([], "0 cells found. No larva could be told among them."),
        ([cell(Content.EMPTY)], "1 cell found. No larva could be told among them."),
        (
            [cell(Content.EGG)],
            "1 cell found. No larva could be told among them. 1 egg.",
        ),
        (
            [cell(Content.CAPPED), cell(Content.CAPPED)],
            "2 cells found. No larva could be told among them. 2 capped.",
        ),
        (
            [larva(Grade.TAKE), cell(Content.EMPTY)],
            "2 cells found. 1 larva: 1 young enough.",
        ),
        (
            [larva(Grade.TOO_OLD), larva(Grade.TOO_OLD)],
            "2 cells found. 2 larvae: 0 young enough, 2 too old.",
        ),
        (
            [cell(Content.UNCLEAR)],
            "1 cell found. No larva could be told among them. "
            "In 1 cell it cannot be told what is there.",
        ),
        (
            [
                *(larva(grade) for grade in (Grade.TAKE, Grade.TAKE, Grade.VERY_YOUNG)),
                *(larva(Grade.BORDERLINE) for _ in range(4)),
                *(larva(Grade.TOO_OLD) for _ in range(5)),
                *(larva(Grade.UNSURE) for _ in range(2)),
                *(cell(Content.EGG) for _ in range(3)),
                *(cell(Content.UNCLEAR) for _ in range(6)),
                cell(Content.CAPPED),
                cell(Content.STORES),
            ],
            "25 cells found. 14 larvae: 3 young enough, 4 borderline, 5 too old, "
            "2 cannot be told. 3 eggs. In 6 cells it cannot be told what is there. "
            "1 with pollen or nectar and 1 capped.",
        ),
    ],
)
def test_what_was_found_is_said_in_plain_words(cells, words):
    assert sum_up(sheet_of(cells)) == words


def test_how_many_verdicts_are_not_sure_is_said():
    doubted = larva(Grade.TOO_OLD, flags=(Flag.OUTLINE_UNCERTAIN,))
    cells = [larva(Grade.TAKE), doubted, larva(Grade.UNSURE, flags=(Flag.OUTLINE_UNCERTAIN,))]
    assert "1 of these is not sure: the rim is dashed." in sum_up(sheet_of(cells))
    assert "2 of these are not sure" in sum_up(sheet_of([*cells, doubted]))
    assert "not sure" not in sum_up(sheet_of([larva(Grade.TAKE)]))


def test_a_whole_frame_from_afar_says_that_it_was_taken_from_too_far_away():
    small = [cell(Content.UNCLEAR, flags=(Flag.TOO_SMALL,), col=k) for k in range(6)]
    near = [cell(Content.UNCLEAR, col=k) for k in range(6, 12)]
    assert "take the photo from nearer" in sum_up(sheet_of([*small, near[0]]))
    assert "nearer" not in sum_up(sheet_of([*small, *near]))


def test_the_counts_of_larvae_add_up():
    rng = np.random.default_rng(1)
    grades = [list(Grade)[k] for k in rng.integers(0, len(Grade), 60)]
    words = sum_up(sheet_of([larva(grade) for grade in grades]))
    assert words.startswith("60 cells found. 60 larvae: ")
    counted = [int(part) for part in words.replace(",", "").split() if part.isdigit()]
    assert sum(counted[2:]) == 60


def test_measured_photos_are_compared_by_identity(keep, picture):
    found = keep(picture)
    assert replace(found) != found

"""My photos: what was found is drawn and explained, and only good photos are kept."""

import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QImage
from PySide6.QtWidgets import QAbstractButton, QApplication, QFileDialog, QMessageBox

from larvasight.app.cell_item import Rim
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.photos_page import PhotosPage
from larvasight.app.why_panel import tied
from larvasight.desk import own_photos
from larvasight.desk.measuring import Measurer
from larvasight.desk.own_photos import sum_up
from larvasight.errors import StoreBusyError
from larvasight.geometry import PITCH_DEFAULT_MM
from larvasight.grading import Limits, grade_sheet
from larvasight.paper.marks import mark_of
from larvasight.render import paint, random_scene, save_picture
from larvasight.sheet import Content, Grade, ScaleSource, sheet_from_json, sheet_to_json
from larvasight.vision.photo import load_photo

NO_KEYS = Qt.KeyboardModifier.NoModifier
YES, NO = QMessageBox.StandardButton.Yes, QMessageBox.StandardButton.Cancel
EMPTY = "Measure your own comb"


@pytest.fixture(scope="module")
def pictures(tmp_path_factory):
    """Draw two small combs; return where their pictures lie."""
    folder = tmp_path_factory.mktemp("pictures")
    found = []
    for name, seed in (("brood-north.png", 2), ("brood-south.png", 1)):
        scene = random_scene(np.random.default_rng(seed), size_px=(480, 360), pitch_px=90.0)
        save_picture(folder / name, paint(scene), scene.camera.distance_mm)
        found.append(folder / name)
    return found


@pytest.fixture(scope="module")
def found_before():
    return {}


@pytest.fixture(autouse=True)
def measure_once(monkeypatch, found_before):
    """Measure the same file with the same cell size and ages only once for all tests."""
    measure = Measurer.measure_loaded

    def measure_or_remember(measurer, photo, by_hand=None):
        if by_hand is not None:
            return measure(measurer, photo, by_hand)
        key = (photo.sha256, measurer._guess, measurer._limits)
        if key not in found_before:
            found_before[key] = measure(measurer, photo)
        sheet = found_before[key]
        return replace(sheet, photo=replace(sheet.photo, name=photo.name))

    monkeypatch.setattr(Measurer, "measure_loaded", measure_or_remember)


@pytest.fixture
def page(qtbot, context):
    made = PhotosPage(context)
    qtbot.addWidget(made)
    made.resize(1000, 680)
    made.show()
    qtbot.waitExposed(made)
    made.arrive()
    return made


@pytest.fixture
def open_all(page, qtbot):
    """Return a function that opens photos and waits until all are measured."""

    def _open(*paths):
        page.open_photos(list(paths))
        wait_for_end(page, qtbot)

    return _open


@pytest.fixture
def said(monkeypatch):
    """Collect what message boxes say; questions are answered with yes."""
    heard = []

    def hear(_parent, _title, words, *_buttons):
        heard.append(words)

    def hear_question(box):
        heard.append(box.text())
        return YES

    for name in ("information", "warning"):
        monkeypatch.setattr(QMessageBox, name, hear)
    monkeypatch.setattr(QMessageBox, "exec", hear_question)
    return heard


def wait_for_end(page, qtbot):
    qtbot.waitUntil(lambda: page._job is None, timeout=20_000)
    QApplication.processEvents()


def buttons_of(page):
    return [made.text() for made in page.findChildren(QAbstractButton) if made.isVisible()]


def files_in(folder):
    return sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []


def choose(page, row):
    page.bar.list.setCurrentIndex(row)
    page.bar.list.activated.emit(row)


def test_without_a_photo_the_page_says_what_to_do(page, words_of):
    assert EMPTY in words_of(page)
    assert any("ask your bee inspector" in words for words in words_of(page))
    assert buttons_of(page).count("Open photos ...") == 2
    assert not {"Save marked ...", "Remove", "Measure again"} & set(buttons_of(page))
    assert not page.side.isVisible()


def test_every_cell_found_is_drawn_with_its_verdict(page, open_all, pictures):
    open_all(pictures[0])
    sheet = page.measured.sheet
    assert page.comb.n_cells == len(sheet.cells) >= 15
    for index, cell in enumerate(sheet.cells):
        face = page.comb.face_of(index)
        assert face.mark == mark_of(cell)
        assert face.rim is (Rim.FAINT if face.mark is None else Rim.VERDICT)
        if cell.age_h_lo is not None and cell.grade is not Grade.UNSURE:
            assert face.words == f"{cell.age_h_lo:.0f}\N{EN DASH}{cell.age_h_hi:.0f} h"
        else:
            assert face.words == ""
    graded = [cell for cell in sheet.cells if cell.age_h_lo is not None]
    assert len(graded) >= 3
    assert len({page.comb.face_of(k).mark for k in range(page.comb.n_cells)}) >= 4


def test_a_pressed_cell_is_explained(page, open_all, pictures, qtbot, words_of):
    open_all(pictures[0])
    sheet = page.measured.sheet
    assert page.side.why.sentence == tied(sheet.cells[page.comb.place].reason)
    for index in range(0, page.comb.n_cells, 4):
        at = page.comb.centre_on_screen(index)
        qtbot.mouseClick(page.comb.viewport(), Qt.MouseButton.LeftButton, NO_KEYS, at)
        assert page.side.why.sentence == tied(sheet.cells[index].reason)
    words = words_of(page.side)
    assert "brood-north.png" in words
    assert sum_up(sheet) in words


def test_the_first_larva_with_an_age_is_explained_at_once(page, open_all, pictures):
    open_all(pictures[0])
    cells = page.measured.sheet.cells
    first = next(k for k, cell in enumerate(cells) if cell.age_h is not None)
    assert page.comb.place == first


def test_a_photo_is_copied_and_remembered_with_its_sheet(page, open_all, pictures, store, data):
    before = pictures[0].read_bytes()
    open_all(pictures[0])
    (kept,) = store.photos()
    assert kept.name == "brood-north.png"
    assert (data / "photos" / f"{kept.sha256}.png").read_bytes() == before
    assert pictures[0].read_bytes() == before
    stored = sheet_from_json(store.photo_sheet(kept.sha256))
    assert stored == sheet_from_json(sheet_to_json(page.measured.sheet))
    assert page.bar.list.count() == 1
    assert page.bar.list.currentText().startswith("brood-north.png, ")


def test_a_text_file_called_jpg_is_one_sentence_and_is_not_kept(
    page, open_all, tmp_path, store, data, words_of
):
    path = tmp_path / "notes.jpg"
    path.write_text("Frame 7: eggs on both sides.", encoding="utf-8")
    open_all(path)
    (sentence,) = [words for words in words_of(page) if "notes.jpg" in words]
    assert sentence.count(".") == 2
    assert sentence.endswith(".")
    assert "That photo could not be used" in words_of(page)
    assert store.photos() == []
    assert files_in(data / "photos") == []
    assert page.measured is None


def test_a_picture_without_comb_is_not_kept(page, open_all, tmp_path, store, data, words_of):
    pixels = np.full((300, 400, 3), 120, np.uint8)
    pixels[:, 100:] = np.random.default_rng(3).integers(90, 150, (300, 300, 3))
    save_picture(tmp_path / "wall.png", pixels, None)
    open_all(tmp_path / "wall.png")
    assert any("wall.png" in words for words in words_of(page))
    assert store.photos() == []
    assert files_in(data / "photos") == []


def test_a_bad_photo_does_not_stop_the_others(page, open_all, pictures, tmp_path, store, said):
    bad = tmp_path / "cut-off.jpg"
    bad.write_bytes(b"\xff\xd8\xff\xe0 and nothing more")
    open_all(pictures[0], bad, pictures[1])
    assert sorted(photo.name for photo in store.photos()) == ["brood-north.png", "brood-south.png"]
    assert page.measured.sheet.photo.name == "brood-south.png"
    assert page.comb.isVisible()
    (words,) = said
    assert "cut-off.jpg" in words
    assert "brood" not in words


def test_while_measuring_the_count_is_told_and_it_can_be_stopped(
    page, pictures, qtbot, words_of, press, monkeypatch
):
    goes_on, opened = threading.Event(), []
    keep_photo = own_photos.keep_photo

    def keep_late(store, data, path, **kwargs):
        opened.append(path)
        assert goes_on.wait(20.0)
        return keep_photo(store, data, path, **kwargs)

    monkeypatch.setattr(own_photos, "keep_photo", keep_late)
    page.open_photos(pictures)
    qtbot.waitUntil(lambda: "Stop" in buttons_of(page))
    assert "Measuring 1 of 2: brood-north.png ..." in words_of(page)
    press(page, "Stop")
    assert EMPTY in words_of(page)
    goes_on.set()
    wait_for_jobs()
    QApplication.processEvents()
    assert page.measured is None
    assert opened == pictures[:1]


def test_a_photo_opened_before_comes_back_without_being_measured(
    page, open_all, pictures, qtbot, monkeypatch
):
    open_all(pictures[0])
    first = page.measured.sheet
    open_all(pictures[1])
    assert page.measured.sheet != first

    def fail(*_args):
        raise AssertionError

    monkeypatch.setattr(Measurer, "measure_loaded", fail)
    names = [page.bar.list.itemText(row) for row in range(page.bar.list.count())]
    choose(page, next(row for row, name in enumerate(names) if name.startswith("brood-north")))
    wait_for_end(page, qtbot)
    again = page.measured.sheet
    assert [cell.grade for cell in again.cells] == [cell.grade for cell in first.cells]
    for one, other in zip(again.cells, first.cells, strict=True):
        assert one.centre_xy_px == pytest.approx(other.centre_xy_px, abs=1e-3)
        assert one.content is other.content
    assert page.comb.n_cells == len(first.cells)
    assert np.array_equal(page.measured.pixels, load_photo(pictures[0]).pixels)


def test_a_kept_photo_whose_file_is_gone_is_one_sentence(
    page, open_all, pictures, qtbot, store, data, said
):
    open_all(pictures[0])
    open_all(pictures[1])
    kept = next(photo for photo in store.photos() if photo.name == "brood-north.png")
    (data / "photos" / f"{kept.sha256}.png").unlink()
    row = page.bar.list.findData(kept.sha256)
    choose(page, row)
    wait_for_end(page, qtbot)
    assert len(said) == 1
    assert page.measured.sheet.photo.name == "brood-south.png"
    assert page.comb.isVisible()


def test_another_cell_size_changes_every_length(page, open_all, pictures, qtbot, press, store):
    open_all(pictures[0])
    before = page.measured.sheet
    assert "Measure again" not in buttons_of(page)
    page.bar._pitch.setValue(5.0)
    press(page, "Measure again")
    wait_for_end(page, qtbot)
    after = page.measured.sheet
    assert after.scale.pitch_mm == pytest.approx(5.0, abs=1e-9)
    assert after.scale.source is ScaleSource.GIVEN
    pairs = [
        (one.length_mm, other.length_mm)
        for one, other in zip(before.cells, after.cells, strict=True)
        if one.length_mm is not None and other.length_mm is not None
    ]
    assert len(pairs) >= 5
    for one_mm, other_mm in pairs:
        assert other_mm / one_mm == pytest.approx(5.0 / PITCH_DEFAULT_MM, abs=0.01)
    (kept,) = store.photos()
    stored = sheet_from_json(store.photo_sheet(kept.sha256)).scale
    assert (stored.pitch_mm, stored.source) == (after.scale.pitch_mm, ScaleSource.GIVEN)
    assert "Measure again" not in buttons_of(page)


def test_a_removed_photo_is_gone_but_not_the_persons_own(
    page, open_all, pictures, press, store, data, said, words_of
):
    open_all(pictures[0])
    press(page, "Remove")
    assert said == ["Remove brood-north.png from larvasight? Your own file stays where it is."]
    assert store.photos() == []
    assert files_in(data / "photos") == []
    assert pictures[0].is_file()
    assert page.measured is None
    assert EMPTY in words_of(page)
    page.bar._pitch.setValue(5.1)
    assert not {"Save marked ...", "Remove", "Measure again"} & set(buttons_of(page))


def test_what_is_lost_with_a_photo_is_said_before_it_is_removed(
    page, open_all, pictures, press, said
):
    open_all(pictures[0])
    page.hand.say_content(0, Content.COVERED)
    press(page, "Remove")
    assert said == [
        "Remove brood-north.png from larvasight? 1 cell put right by hand will be lost. "
        "Your own file stays where it is."
    ]


@pytest.mark.parametrize("pressed", [Qt.Key.Key_Return, Qt.Key.Key_Enter])
def test_enter_in_the_field_measures_with_the_cell_size_in_it(
    page, open_all, pictures, qtbot, pressed
):
    open_all(pictures[0])
    page.bar._pitch.setFocus()
    page.bar._pitch.setValue(5.0)
    qtbot.keyClick(page.bar._pitch, pressed)
    wait_for_end(page, qtbot)
    assert page.measured.sheet.scale.pitch_mm == pytest.approx(5.0, abs=1e-9)
    assert QApplication.activePopupWidget() is None


def test_a_photo_is_kept_when_the_answer_is_no(page, open_all, pictures, press, store, monkeypatch):
    monkeypatch.setattr(QMessageBox, "exec", lambda _box: NO)
    open_all(pictures[0])
    press(page, "Remove")
    assert len(store.photos()) == 1
    assert page.comb.isVisible()


def test_a_photo_that_cannot_be_removed_now_is_one_sentence(
    page, open_all, pictures, press, store, said, monkeypatch
):
    def busy(_sha256):
        msg = "Another program is using the records."
        raise StoreBusyError(msg)

    open_all(pictures[0])
    monkeypatch.setattr(store, "remove_photo", busy)
    press(page, "Remove")
    assert said[1:] == ["Another program is using the records."]
    assert page.comb.isVisible()


def test_dropped_files_are_opened(page, pictures, qtbot):
    dropped = QMimeData()
    dropped.setUrls([QUrl.fromLocalFile(str(pictures[0])), QUrl("http://example.invalid/x.jpg")])
    action, left = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    entering = QDragEnterEvent(QPoint(50, 90), action, dropped, left, NO_KEYS)
    QApplication.sendEvent(page, entering)
    assert entering.isAccepted()
    QApplication.sendEvent(page, QDropEvent(QPointF(50, 90), action, dropped, left, NO_KEYS))
    wait_for_end(page, qtbot)
    assert page.measured.sheet.photo.name == "brood-north.png"


def test_dragged_words_are_not_taken(page):
    dragged = QMimeData()
    dragged.setText("brood-north.png")
    action, left = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton
    entering = QDragEnterEvent(QPoint(50, 90), action, dragged, left, NO_KEYS)
    entering.ignore()
    QApplication.sendEvent(page, entering)
    assert not entering.isAccepted()


def test_chosen_files_are_opened_and_their_folder_is_remembered(
    page, pictures, qtbot, monkeypatch, settings, press
):
    asked = []

    def answer(_parent, _title, folder, _kinds):
        asked.append(folder)
        return [str(pictures[1])], ""

    monkeypatch.setattr(QFileDialog, "getOpenFileNames", answer)
    page.ask_for_photos()
    wait_for_end(page, qtbot)
    assert page.measured.sheet.photo.name == "brood-south.png"
    page.ask_for_photos()
    wait_for_end(page, qtbot)
    assert asked == ["", str(pictures[1].parent)]
    assert settings.photo_folder == str(pictures[1].parent)


@pytest.mark.parametrize("ending", ["", ".png"])
def test_the_marked_picture_is_saved(page, open_all, pictures, tmp_path, monkeypatch, said, ending):
    open_all(pictures[0])
    asked = []

    def answer(_parent, _title, name, _kinds):
        asked.append(Path(name).name)
        return str(tmp_path / f"marked{ending}"), ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", answer)
    page.save_marked()
    assert asked == ["brood-north-marked.png"]
    image = QImage(str(tmp_path / "marked.png"))
    assert image.width() >= 480
    assert image.height() > 360 * image.width() / 480
    assert said == [f"Saved as marked.png in {tmp_path}."]


def test_a_marked_picture_that_cannot_be_saved_is_one_sentence(
    page, open_all, pictures, tmp_path, monkeypatch, said
):
    open_all(pictures[0])
    (tmp_path / "file").write_text("here", encoding="utf-8")
    where = str(tmp_path / "file" / "marked.png")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (where, ""))
    page.save_marked()
    assert len(said) == 1
    assert said[0].endswith(".")


def test_saving_is_left_when_no_name_is_given(page, open_all, pictures, monkeypatch, said):
    open_all(pictures[0])
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("", ""))
    page.save_marked()
    assert said == []


def test_verdicts_follow_the_ages_that_are_wanted(page, open_all, pictures, context, store):
    open_all(pictures[0])
    before = page.measured.sheet
    limits = Limits(young_h=0.0, best_young_h=0.0, best_old_h=90.0, old_h=96.0)
    store.set_limits(limits)
    context.set_learner(context.learner)
    sheet = page.measured.sheet
    assert sheet == grade_sheet(before, limits)
    assert [cell.grade for cell in sheet.cells] != [cell.grade for cell in before.cells]
    for index, cell in enumerate(sheet.cells):
        assert page.comb.face_of(index).mark == mark_of(cell)
    assert Grade.TOO_OLD not in {cell.grade for cell in sheet.cells}
    assert Content.LARVA in {cell.content for cell in sheet.cells}


def test_a_photo_with_an_unusual_ending_is_opened_and_kept(
    page, open_all, pictures, tmp_path, store, data
):
    path = tmp_path / "brood.2026-05-20"
    path.write_bytes(pictures[0].read_bytes())
    open_all(path)
    (kept,) = store.photos()
    assert kept.name == "brood.2026-05-20"
    assert files_in(data / "photos") == [f"{kept.sha256}{kept.suffix}"]
    assert page.measured.sheet.photo.name == "brood.2026-05-20"


def test_every_copy_of_a_removed_photo_is_gone(
    page, open_all, pictures, tmp_path, press, data, said
):
    # The same picture, opened under two endings.
    path = tmp_path / "brood.jpg"
    path.write_bytes(pictures[0].read_bytes())
    open_all(pictures[0], path)
    press(page, "Remove")
    assert len(said) == 1
    assert files_in(data / "photos") == []

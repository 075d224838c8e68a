"""My photos put right by hand: contents, a ruler, body lines; each mark is kept and taken back."""

import json
import time
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtWidgets import QApplication, QFileDialog, QMessageBox

from larvasight.app.line_tool import LineTool
from larvasight.app.photos_page import PhotosPage
from larvasight.app.ruler_tool import RulerTool
from larvasight.desk.measuring import Measurer
from larvasight.errors import StoreBusyError
from larvasight.paper.marks import BY_HAND_MARK
from larvasight.render import paint, random_scene, save_picture
from larvasight.sheet import Content, Grade, ScaleSource, sheet_from_json

LEFT = Qt.MouseButton.LeftButton
NO_KEYS, CTRL = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    path = tmp_path_factory.mktemp("pictures") / "brood.png"
    scene = random_scene(np.random.default_rng(2), size_px=(640, 420), pitch_px=80.0)
    save_picture(path, paint(scene), scene.camera.distance_mm)
    return path


@pytest.fixture(scope="module")
def found_before():
    return {}


@pytest.fixture(autouse=True)
def measure_once(monkeypatch, found_before):
    """Measure with the same cell size only once for all tests."""
    measure = Measurer.measure_loaded

    def measure_or_remember(measurer, photo, by_hand=None):
        if by_hand is not None:
            return measure(measurer, photo, by_hand)
        key = (measurer._guess, measurer._limits)
        if key not in found_before:
            found_before[key] = measure(measurer, photo)
        return found_before[key]

    monkeypatch.setattr(Measurer, "measure_loaded", measure_or_remember)


@pytest.fixture
def said(monkeypatch):
    heard = []

    def hear(_parent, _title, words, *_buttons):
        heard.append(words)

    for name in ("information", "warning"):
        monkeypatch.setattr(QMessageBox, name, hear)
    return heard


@pytest.fixture
def open_page(qtbot, context, picture):
    def _open():
        made = PhotosPage(context)
        qtbot.addWidget(made)
        made.resize(1100, 720)
        made.show()
        qtbot.waitExposed(made)
        made.arrive()
        made.open_photos([picture])
        wait_for_end(made, qtbot)
        return made

    return _open


@pytest.fixture
def page(open_page):
    return open_page()


@pytest.fixture
def key(page, qtbot):
    return partial(qtbot.keyClick, page.comb)


def wait_for_end(page, qtbot):
    qtbot.waitUntil(lambda: page._job is None, timeout=20_000)
    QApplication.processEvents()


def shown(page):
    return page.hand.marks.sheet


def go_to(page, is_wanted):
    """Choose the first cell that is wanted, as a click on it does; return its index."""
    index = next(k for k, cell in enumerate(shown(page).cells) if is_wanted(cell))
    page.comb.cell_pressed.emit(index)
    return index


def a_graded_larva(cell):
    return cell.content is Content.LARVA and cell.age_h is not None and cell.curl_deg is not None


def on_screen(page, point_xy_px):
    return page.comb.mapFromScene(QPointF(point_xy_px[0] + 0.5, point_xy_px[1] + 0.5))


def drag(page, qtbot, start, end):
    """Drag from one point of the comb's widget to another."""
    viewport = page.comb.viewport()
    qtbot.mousePress(viewport, LEFT, NO_KEYS, start)
    for share in (0.3, 0.7, 1.0):
        way = QPointF(end - start) * share
        qtbot.mouseMove(viewport, start + way.toPoint())
    qtbot.mouseRelease(viewport, LEFT, NO_KEYS, end)


def test_a_key_says_what_a_cell_holds_and_sign_and_words_say_by_hand(page, key, store):
    index = go_to(page, a_graded_larva)
    measured = page.measured.sheet.cells[index]
    key(Qt.Key.Key_4)
    cell = shown(page).cells[index]
    assert (cell.content, cell.grade) == (Content.CAPPED, None)
    face = page.comb.face_of(index)
    assert face.is_by_hand
    assert (face.mark, face.words) == (None, "capped cell")
    assert page.side.why.by_hand.startswith("By hand. Measured: ")
    assert page.side.why.sentence == "A capped cell."
    assert BY_HAND_MARK.word in page._frame.legend.accessibleName()
    assert page.measured.sheet.cells[index] == measured
    (kept,) = store.hand_marks(page.measured.sheet.photo.sha256)
    assert (kept.row, kept.col, kept.content) == (cell.row, cell.col, Content.CAPPED)


@pytest.mark.parametrize(
    ("pressed", "content"),
    [
        (Qt.Key.Key_1, Content.EMPTY),
        (Qt.Key.Key_2, Content.EGG),
        (Qt.Key.Key_4, Content.CAPPED),
        (Qt.Key.Key_5, Content.STORES),
        (Qt.Key.Key_6, Content.COVERED),
        (Qt.Key.Key_7, Content.UNCLEAR),
    ],
)
def test_each_content_has_its_key(page, key, pressed, content):
    index = go_to(page, a_graded_larva)
    key(pressed)
    assert shown(page).cells[index].content is content


def test_a_larva_by_hand_says_that_it_was_not_measured(page, key):
    index = go_to(page, lambda cell: cell.content is not Content.LARVA)
    key(Qt.Key.Key_3)
    assert shown(page).cells[index].grade is Grade.UNSURE
    assert "was not measured" in page.side.why.sentence


def test_marks_are_taken_back_and_made_again(page, key, store):
    before = shown(page)
    index = go_to(page, a_graded_larva)
    key(Qt.Key.Key_2)
    after = shown(page)
    key(Qt.Key.Key_Z, CTRL)
    assert shown(page) == before
    assert not page.comb.face_of(index).is_by_hand
    assert page.side.why.by_hand == ""
    assert store.hand_marks(before.photo.sha256) == []
    key(Qt.Key.Key_Y, CTRL)
    assert shown(page) == after
    key(Qt.Key.Key_Z)
    assert shown(page) == before


def test_the_menu_of_a_cell_says_the_same_as_the_keys(page):
    index = go_to(page, a_graded_larva)
    menu = page.hand.menu_of(index)
    words = {action.text().partition("\t")[0]: action for action in menu.actions()}
    assert words["Larva"].isChecked()
    assert not words["As measured"].isEnabled()
    words["Egg"].trigger()
    assert shown(page).cells[index].content is Content.EGG
    again = page.hand.menu_of(index)
    back = next(a for a in again.actions() if a.text().startswith("As measured"))
    back.trigger()
    assert shown(page).cells[index].content is Content.LARVA
    for made in (menu, again):
        made.deleteLater()


def test_marks_are_there_when_the_photo_is_opened_again(page, key, open_page):
    index = go_to(page, a_graded_larva)
    key(Qt.Key.Key_5)
    other = open_page()
    assert shown(other).cells[index].content is Content.STORES
    assert other.comb.face_of(index).is_by_hand


def test_a_mark_that_cannot_be_stored_is_one_sentence(page, key, store, said, monkeypatch):
    def busy(_sha256, _mark, **_):
        msg = "Another program is using the records."
        raise StoreBusyError(msg)

    index = go_to(page, a_graded_larva)
    monkeypatch.setattr(store, "put_hand_mark", busy)
    key(Qt.Key.Key_4)
    assert said == ["Another program is using the records."]
    assert shown(page).cells[index].content is Content.LARVA


@pytest.mark.parametrize("way", ["button", "enter"])
def test_two_clicks_on_a_ruler_set_the_cell_size(page, qtbot, store, way):
    page.hand.lay_ruler()
    assert "first mark" in page.hand.strip.words
    viewport = page.comb.viewport()
    ends = [(60.0, 200.0), (580.0, 200.0)]
    qtbot.mouseClick(viewport, LEFT, NO_KEYS, on_screen(page, ends[0]))
    assert "second mark" in page.hand.strip.words
    qtbot.mouseClick(viewport, LEFT, NO_KEYS, on_screen(page, ends[1]))
    assert "How many millimetres" in page.hand.strip.words
    n_pitches = 520.0 / page.measured.sheet.scale.pitch_px
    page.hand.strip.length.setValue(round(5.0 * n_pitches, 1))
    before = page.measured.sheet
    if way == "enter":
        qtbot.keyClick(page.hand.strip.length, Qt.Key.Key_Return)
    else:
        page.hand.strip._use.click()
    wait_for_end(page, qtbot)
    scale = page.measured.sheet.scale
    assert scale.source is ScaleSource.RULER
    # Clicks fall on whole px of the screen.
    assert scale.pitch_mm == pytest.approx(5.0, rel=0.03)
    kept = sheet_from_json(store.photo_sheet(before.photo.sha256))
    assert kept.scale.source is ScaleSource.RULER
    assert page.comb.tool is None
    pairs = [
        (one.length_mm, other.length_mm)
        for one, other in zip(before.cells, page.measured.sheet.cells, strict=True)
        if one.length_mm is not None and other.length_mm is not None
    ]
    assert pairs
    for one_mm, other_mm in pairs:
        assert other_mm / one_mm == pytest.approx(scale.pitch_mm / before.scale.pitch_mm, abs=0.01)
    assert page.bar._again.isHidden()


@pytest.mark.parametrize(
    ("ends", "length_mm", "words"),
    [
        (((100.0, 200.0), (180.0, 200.0)), 50.0, "too close together"),
        (((60.0, 200.0), (580.0, 200.0)), 90.0, "check both points"),
    ],
)
def test_a_ruler_that_tells_nothing_is_refused_in_one_sentence(page, qtbot, ends, length_mm, words):
    page.hand.lay_ruler()
    for end in ends:
        qtbot.mouseClick(page.comb.viewport(), LEFT, NO_KEYS, on_screen(page, end))
    page.hand.strip.length.setValue(length_mm)
    page.hand.strip._use.click()
    assert words in page.hand.strip.words
    assert isinstance(page.comb.tool, RulerTool)
    assert page.measured.sheet.scale.source is ScaleSource.COMB


def test_a_ruler_is_laid_from_the_keyboard_and_escape_leaves(page, key, qtbot):
    page.hand.lay_ruler()
    key(Qt.Key.Key_Left)
    key(Qt.Key.Key_Space)
    key(Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    key(Qt.Key.Key_Return)
    (first, second) = page.comb.tool.points_xy_px
    assert second[0] > first[0]
    assert second[1] == first[1]
    qtbot.keyClick(page.hand.strip.length, Qt.Key.Key_Escape)
    assert page.comb.tool is None
    assert page.hand.strip.words == ""


def test_a_dragged_handle_changes_length_and_age_at_once_and_is_kept(page, key, qtbot, store):
    index = go_to(page, a_graded_larva)
    before = shown(page).cells[index]
    key(Qt.Key.Key_C)
    key(Qt.Key.Key_B)
    tool = page.comb.tool
    assert isinstance(tool, LineTool)
    assert 5 <= len(tool.handles_xy_px) <= 9
    heard = []
    tool.moved.connect(lambda _handles: heard.append(page.side.why.sentence))
    start = on_screen(page, tool.handles_xy_px[0])
    drag(page, qtbot, start, start + QPoint(25, 25))
    assert len(heard) >= 2
    assert heard[0] != heard[-1]
    cell = shown(page).cells[index]
    assert cell.length_mm != before.length_mm
    assert page.side.why.by_hand
    (kept,) = store.hand_marks(page.measured.sheet.photo.sha256)
    assert kept.content is None
    assert kept.line_xy_px == tool.handles_xy_px
    key(Qt.Key.Key_Z, CTRL)
    assert shown(page).cells[index] == before
    assert page.comb.tool is tool
    key(Qt.Key.Key_Escape)
    assert page.comb.tool is None


def test_the_screen_follows_a_drag_within_50_ms(page, key):
    go_to(page, a_graded_larva)
    key(Qt.Key.Key_B)
    tool = page.comb.tool
    x_px, y_px = tool.handles_xy_px[0]
    assert tool.pressed(QPointF(x_px, y_px), 1.0)
    took_s = []
    for k in range(6):
        began = time.perf_counter()
        tool.dragged(QPointF(x_px + k, y_px))
        took_s.append(time.perf_counter() - began)
    assert min(took_s) < 0.05
    page.hand.leave()


def test_handles_are_added_and_taken_away(page, key, qtbot):
    go_to(page, a_graded_larva)
    key(Qt.Key.Key_C)
    key(Qt.Key.Key_B)
    tool = page.comb.tool
    before = tool.handles_xy_px
    (x0, y0), (x1, y1) = before[0], before[1]
    middle = on_screen(page, ((x0 + x1) / 2.0, (y0 + y1) / 2.0))
    assert tool.double_clicked(QPointF((x0 + x1) / 2.0, (y0 + y1) / 2.0), 1.0)
    assert len(tool.handles_xy_px) == len(before) + 1
    assert middle is not None
    key(Qt.Key.Key_Delete)
    assert tool.handles_xy_px == before
    for _ in range(12):
        key(Qt.Key.Key_Delete)
    assert len(tool.handles_xy_px) == 3
    for _ in range(12):
        key(Qt.Key.Key_Insert)
    assert len(tool.handles_xy_px) == 12
    page.hand.leave()


def test_a_handle_is_moved_from_the_keyboard_and_kept_when_one_leaves(page, key):
    index = go_to(page, a_graded_larva)
    key(Qt.Key.Key_B)
    tool = page.comb.tool
    before = tool.handles_xy_px
    key(Qt.Key.Key_N)
    for _ in range(3):
        key(Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert tool.handles_xy_px[0][0] > before[0][0]
    assert tool.handles_xy_px[1:] == before[1:]
    key(Qt.Key.Key_Escape)
    assert page.hand.marks.marks[index].line_xy_px == tool.handles_xy_px
    key(Qt.Key.Key_Z)
    assert index not in page.hand.marks.marks


def test_a_new_line_tells_no_age_before_all_of_it_is_laid(page, key, store):
    index = go_to(page, lambda cell: cell.content is not Content.LARVA)
    key(Qt.Key.Key_3)
    key(Qt.Key.Key_B)
    assert len(page.comb.tool.handles_xy_px) == 5
    assert "was not measured" in page.side.why.sentence
    for n_laid in range(5):
        key(Qt.Key.Key_N)
        key(Qt.Key.Key_Down)
        assert ("lay every point" in page.side.why.sentence) == (n_laid < 4)
    key(Qt.Key.Key_Escape)
    assert shown(page).cells[index].age_h is not None
    (kept,) = store.hand_marks(page.measured.sheet.photo.sha256)
    assert kept.content is Content.LARVA
    assert kept.line_xy_px is not None


def test_only_larvae_have_a_line_to_move(page, key):
    go_to(page, lambda cell: cell.content is not Content.LARVA)
    key(Qt.Key.Key_B)
    assert page.comb.tool is None
    assert not page.hand.strip._line.isEnabled()


def test_another_cell_lets_the_line_go(page, key):
    index = go_to(page, a_graded_larva)
    key(Qt.Key.Key_B)
    page.comb.cell_pressed.emit(index + 1)
    assert page.comb.tool is None
    assert page.comb.place == index + 1


def test_marks_are_saved_with_the_sheet(page, key, tmp_path, monkeypatch, said):
    assert page.hand.strip._save.isHidden()
    index = go_to(page, a_graded_larva)
    key(Qt.Key.Key_2)
    assert page.hand.strip._save.isVisible()
    asked = []

    def answer(_parent, _title, name, _kinds):
        asked.append(Path(name).name)
        return str(tmp_path / "marks"), ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", answer)
    page.hand.strip._save.click()
    assert asked == ["brood-marks.json"]
    assert said == [f"Saved as marks.json in {tmp_path}."]
    text = (tmp_path / "marks.json").read_text(encoding="utf-8")
    assert json.loads(text)["cells"][index]["by_hand"]["content"] == "egg"
    assert sheet_from_json(text).cells[index].content is Content.LARVA


def test_marks_that_cannot_be_saved_are_one_sentence(page, key, tmp_path, monkeypatch, said):
    go_to(page, a_graded_larva)
    key(Qt.Key.Key_2)
    (tmp_path / "file").write_text("here", encoding="utf-8")
    where = str(tmp_path / "file" / "marks.json")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (where, ""))
    page.hand.save()
    assert len(said) == 1
    assert said[0].endswith(".")


def test_without_a_photo_there_is_nothing_to_put_right(qtbot, context):
    page = PhotosPage(context)
    qtbot.addWidget(page)
    page.show()
    page.arrive()
    assert page.hand.strip.isHidden()
    qtbot.keyClick(page, Qt.Key.Key_2)
    page.hand.undo()
    page.hand.move_line()
    assert page.hand.marks is None

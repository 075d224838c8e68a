"""My photos: cells moved by handles, laid from two clicks, the known age, use for practice."""

import time
from datetime import UTC, datetime, timedelta
from functools import partial

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtWidgets import QApplication, QMessageBox

from larvasight.app.lattice_tool import LatticeTool
from larvasight.app.photos_age import AgeDialog
from larvasight.app.photos_cells import TwoClicks
from larvasight.app.photos_page import PhotosPage
from larvasight.app.photos_practice import PracticeDialog
from larvasight.desk.hand_cells import MOVE, TURN, handles_of
from larvasight.desk.measuring import Measurer
from larvasight.records.types import KnownAge
from larvasight.render import paint, random_scene, save_picture
from larvasight.sheet import Content, LatticeByHand
from larvasight.vision.lattice_by_hand import laid

LEFT = Qt.MouseButton.LeftButton
NO_KEYS, CTRL = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier
SIZE_PX = (480, 320)


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    path = tmp_path_factory.mktemp("pictures") / "brood.png"
    scene = random_scene(np.random.default_rng(2), size_px=SIZE_PX, pitch_px=80.0)
    save_picture(path, paint(scene), scene.camera.distance_mm)
    return path


@pytest.fixture(scope="module")
def found_before():
    return {}


@pytest.fixture(autouse=True)
def measure_once(monkeypatch, found_before):
    """Find and measure the same photo only once for all tests."""
    measure = Measurer.measure_loaded

    def measure_or_remember(measurer, photo, by_hand=None):
        if by_hand is not None:
            return measure(measurer, photo, by_hand)
        key = (measurer._guess, measurer._limits, photo.sha256)
        if key not in found_before:
            found_before[key] = measure(measurer, photo)
        return found_before[key]

    monkeypatch.setattr(Measurer, "measure_loaded", measure_or_remember)


@pytest.fixture
def open_page(qtbot, context):
    def _open(path):
        made = PhotosPage(context)
        qtbot.addWidget(made)
        made.resize(1100, 720)
        made.show()
        qtbot.waitExposed(made)
        made.arrive()
        made.open_photos([path])
        wait_for_end(made, qtbot)
        return made

    return _open


@pytest.fixture
def page(open_page, picture):
    return open_page(picture)


@pytest.fixture
def key(page, qtbot):
    return partial(qtbot.keyClick, page.comb)


def wait_for_end(page, qtbot):
    qtbot.waitUntil(lambda: page._job is None, timeout=20_000)
    QApplication.processEvents()


def on_screen(page, point_xy_px):
    x, y = point_xy_px
    return page.comb.mapFromScene(QPointF(float(x) + 0.5, float(y) + 0.5))


def drag(page, qtbot, start, end):
    viewport = page.comb.viewport()
    qtbot.mousePress(viewport, LEFT, NO_KEYS, start)
    for share in (0.3, 0.7, 1.0):
        qtbot.mouseMove(viewport, start + (QPointF(end - start) * share).toPoint())
    qtbot.mouseRelease(viewport, LEFT, NO_KEYS, end)


def places(page):
    return np.array([cell.centre_xy_px for cell in page.hand.marks.measured.cells])


def test_a_handle_dragged_moves_the_cells_and_they_are_measured_there(page, key, qtbot, store):
    before = {(c.row, c.col): c.centre_xy_px for c in page.measured.sheet.cells}
    key(Qt.Key.Key_G)
    tool = page.comb.tool
    assert isinstance(tool, LatticeTool)
    assert "Drag a handle" in page.hand.strip.words
    start = on_screen(page, tool.handles_xy_px[MOVE])
    drag(page, qtbot, start, start + QPoint(24, -16))
    wait_for_end(page, qtbot)
    after = page.measured.sheet
    assert after.lattice.by_hand is LatticeByHand.MOVED
    zoom = page.comb.transform().m11()
    for cell in after.cells:
        way = np.array(cell.centre_xy_px) - np.array(before[cell.row, cell.col])
        assert way == pytest.approx([24.0 / zoom, -16.0 / zoom], abs=1.5 / zoom)
    assert page.comb.n_cells == len(after.cells)
    assert isinstance(page.comb.tool, LatticeTool)
    (photo,) = store.photos()
    assert store.hand_lattice(photo.sha256).kind == "moved"


def test_moves_are_taken_back_and_made_once_more(page, key, qtbot, store):
    (photo,) = store.photos()
    before = places(page)
    key(Qt.Key.Key_G)
    start = on_screen(page, page.comb.tool.handles_xy_px[MOVE])
    drag(page, qtbot, start, start + QPoint(6, 4))
    wait_for_end(page, qtbot)
    moved = places(page)
    assert np.abs(moved[0] - before[0]).max() > 1.0
    key(Qt.Key.Key_Z, CTRL)
    wait_for_end(page, qtbot)
    assert places(page) == pytest.approx(before, abs=1e-3)
    assert store.hand_lattice(photo.sha256) is None
    key(Qt.Key.Key_Y, CTRL)
    wait_for_end(page, qtbot)
    assert places(page) == pytest.approx(moved, abs=1e-2)


def test_arrows_move_the_handle_that_n_chose(page, key, qtbot):
    key(Qt.Key.Key_G)
    tool = page.comb.tool
    before = tool.handles_xy_px.copy()
    key(Qt.Key.Key_Right)
    zoom = page.comb.transform().m11()
    assert tool.handles_xy_px - before == pytest.approx(np.full((3, 2), [1.0 / zoom, 0.0]))
    key(Qt.Key.Key_N)
    key(Qt.Key.Key_Down)
    assert tool.handles_xy_px[MOVE] == pytest.approx(before[MOVE] + [1.0 / zoom, 0.0])
    assert tool.handles_xy_px[TURN][1] - before[TURN][1] == pytest.approx(1.0 / zoom)
    key(Qt.Key.Key_Escape)
    assert page.comb.tool is None
    wait_for_end(page, qtbot)
    # What was moved is kept when the handles are put away, and cells are shown again.
    assert page.measured.sheet.lattice.by_hand is LatticeByHand.MOVED
    assert page.comb.face_of(0) is not None
    assert all(item.isVisible() for item in page.comb._items)


def test_moving_a_thousand_cells_takes_no_time_to_be_seen(page, qtbot):
    lattice = laid((200.0, 150.0), (226.0, 150.0), (1100, 620))
    assert len(lattice.cells) >= 1000
    tool = LatticeTool(lattice, handles_of(lattice, SIZE_PX))
    page.comb.set_tool(tool)
    start = on_screen(page, tool.handles_xy_px[MOVE])
    viewport = page.comb.viewport()
    qtbot.mousePress(viewport, LEFT, NO_KEYS, start)
    took_ms = []
    for step in range(6):
        began = time.thread_time()
        qtbot.mouseMove(viewport, start + QPoint(3 * step, 2 * step))
        viewport.repaint()
        took_ms.append(1000.0 * (time.thread_time() - began))
    page.comb.set_tool(None)
    assert min(took_ms) < 50.0  # of this thread alone: others may be at work beside it


def test_cells_with_marks_by_hand_keep_them(page, key, qtbot):
    page.comb.cell_pressed.emit(0)
    key(Qt.Key.Key_4)
    at = page.hand.marks.sheet.cells[0].centre_xy_px
    key(Qt.Key.Key_G)
    start = on_screen(page, page.comb.tool.handles_xy_px[MOVE])
    drag(page, qtbot, start, start + QPoint(8, 6))
    wait_for_end(page, qtbot)
    (index,) = page.hand.marks.marks
    cell = page.hand.marks.sheet.cells[index]
    assert cell.content is Content.CAPPED
    assert np.hypot(*(np.array(cell.centre_xy_px) - at)) < 20.0


def test_a_photo_without_comb_can_have_its_cells_laid(
    open_page, press, words_of, qtbot, tmp_path, store
):
    path = tmp_path / "dim.png"
    save_picture(path, np.full((320, 480, 3), 120, np.uint8), None)
    page = open_page(path)
    assert "That photo could not be used" in words_of(page)
    press(page, "Lay cells by hand")
    wait_for_end(page, qtbot)
    assert isinstance(page.comb.tool, TwoClicks)
    viewport = page.comb.viewport()
    for point, words in (((240.0, 160.0), "beside it"), ((310.0, 160.0), "Looking")):
        qtbot.mouseClick(viewport, LEFT, NO_KEYS, on_screen(page, point))
        assert words in page.hand.strip.words
    wait_for_end(page, qtbot)
    assert page.measured.sheet.lattice.by_hand is LatticeByHand.LAID
    assert isinstance(page.comb.tool, LatticeTool)
    assert len(store.photos()) == 1


def test_laying_cells_can_be_given_up(open_page, press, words_of, qtbot, tmp_path, store):
    path = tmp_path / "dim.png"
    save_picture(path, np.full((320, 480, 3), 120, np.uint8), None)
    page = open_page(path)
    press(page, "Lay cells by hand")
    wait_for_end(page, qtbot)
    qtbot.keyClick(page.comb, Qt.Key.Key_Escape)
    assert "Measure your own comb" in words_of(page)
    assert store.photos() == []


def test_clicks_too_near_are_one_sentence_and_asked_again(open_page, press, qtbot, tmp_path):
    path = tmp_path / "dim.png"
    save_picture(path, np.full((320, 480, 3), 120, np.uint8), None)
    page = open_page(path)
    press(page, "Lay cells by hand")
    wait_for_end(page, qtbot)
    for point in ((240.0, 160.0), (245.0, 160.0)):
        qtbot.mouseClick(page.comb.viewport(), LEFT, NO_KEYS, on_screen(page, point))
    wait_for_end(page, qtbot)
    assert "too close together" in page.hand.strip.words
    assert isinstance(page.comb.tool, TwoClicks)


def test_looking_for_cells_anew_asks_first(page, key, qtbot, monkeypatch, press):
    key(Qt.Key.Key_G)
    start = on_screen(page, page.comb.tool.handles_xy_px[MOVE])
    drag(page, qtbot, start, start + QPoint(6, 4))
    wait_for_end(page, qtbot)
    asked = []
    answers = iter([QMessageBox.StandardButton.Cancel, QMessageBox.StandardButton.Yes])

    def answer(box):
        asked.append(box.text())
        return next(answers)

    monkeypatch.setattr(QMessageBox, "exec", answer)
    press(page, "As found")
    assert page.measured.sheet.lattice.by_hand is LatticeByHand.MOVED
    press(page, "As found")
    wait_for_end(page, qtbot)
    assert page.measured.sheet.lattice.by_hand is None
    assert len(asked) == 2


def test_a_known_age_is_shown_beside_what_was_measured(page, store, monkeypatch, clock, words_of):
    def enter(dialog):
        for box, hours in ((dialog.laid_from, -200), (dialog.laid_to, -188), (dialog.taken, 0)):
            at = datetime(2026, 5, 20, 8, 30) + timedelta(hours=hours)  # noqa: DTZ001
            box.setDateTime(at)
        dialog.use()
        return dialog.result()

    monkeypatch.setattr(AgeDialog, "exec", enter)
    page.set.ask_age()
    (photo,) = store.photos()
    assert store.known_age(photo.sha256) is not None
    assert "The queen laid here for 12 h: by that larvae are 110\N{EN DASH}130 h old." in words_of(
        page.side
    )
    cells = page.hand.marks.sheet.cells
    index = next(k for k, c in enumerate(cells) if c.age_h is not None)
    page.comb.cell_pressed.emit(index)
    assert "Measured younger than it can be" in page.side.why.sentence
    assert "\N{BLACK UP-POINTING TRIANGLE}" in page.comb.face_of(index).words
    monkeypatch.setattr(AgeDialog, "exec", lambda dialog: dialog.forget() or dialog.result())
    page.set.ask_age()
    assert store.known_age(photo.sha256) is None
    assert "Measured younger" not in page.side.why.sentence


def test_times_that_cannot_be_keep_the_button_shut(qtbot, page, clock):
    dialog = AgeDialog(page, None, None, clock())
    qtbot.addWidget(dialog)
    assert dialog.use_button.isEnabled()
    dialog.laid_to.setDateTime(dialog.laid_from.dateTime().addSecs(-3600))
    assert not dialog.use_button.isEnabled()
    assert "let go after" in dialog._told.text()
    dialog.use()
    assert dialog.age is None


def test_a_photo_is_used_for_practice_and_no_longer(page, store, monkeypatch, words_of):
    def agree(dialog):
        dialog.all_checked.setChecked(True)
        dialog.accept()
        return dialog.result()

    monkeypatch.setattr(PracticeDialog, "exec", agree)
    page.set.ask_practise()
    (made,) = store.practice_photos()
    assert made.is_all_checked
    assert any("kept apart for a test" in words for words in words_of(page.side))
    monkeypatch.setattr(PracticeDialog, "exec", lambda dialog: dialog._stop() or dialog.result())
    page.set.ask_practise()
    assert store.practice_photos() == []
    assert not any("kept apart for a test" in words for words in words_of(page.side))


def test_a_cell_is_said_to_be_right_as_shown(page, key):
    index = next(
        k for k, c in enumerate(page.hand.marks.sheet.cells) if c.content is not Content.UNCLEAR
    )
    page.comb.cell_pressed.emit(index)
    key(Qt.Key.Key_9)
    assert page.hand.marks.is_confirmed(index)
    assert page.side.why.by_hand == "Checked by hand: right as measured."
    key(Qt.Key.Key_Z)
    assert page.hand.marks.marks == {}


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone of the computer stays")
def test_a_time_that_comes_twice_in_autumn_is_kept_when_nothing_is_changed(
    page, qtbot, monkeypatch
):
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    try:
        # 02:30 of 26 Oct 2025 for the second time.
        taken = datetime(2025, 10, 26, 1, 30, tzinfo=UTC)
        age = KnownAge(
            laid_from_utc=taken - timedelta(days=4),
            laid_to_utc=taken - timedelta(days=3),
            taken_at_utc=taken,
        )
        dialog = AgeDialog(page, age, None, taken)
        qtbot.addWidget(dialog)
        dialog.use()
        assert dialog.age == age
    finally:
        monkeypatch.undo()
        time.tzset()

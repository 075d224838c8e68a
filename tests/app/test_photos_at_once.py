"""My photos while something is measured: stopping, closing, wishes that come meanwhile."""

import math
import threading
from functools import partial

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtWidgets import QApplication

from larvasight.app import photos_page
from larvasight.app.leaving import may_leave
from larvasight.app.photos_page import PhotosPage
from larvasight.app.practise_page import PractisePage
from larvasight.desk import own_photos
from larvasight.desk.hand_cells import MOVE, stored_lattice
from larvasight.desk.measuring import Measurer
from larvasight.practice.drills import PICK_ON_OWN, TEST_ON_OWN
from larvasight.records.store import Store
from larvasight.records.types import PracticePhoto
from larvasight.render import paint, random_scene, save_picture
from larvasight.sheet import Content, LatticeByHand, ScaleSource, sheet_from_json
from larvasight.vision.scale import ScaleGuess

LEFT, NO_KEYS = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
RULER = ScaleGuess(pitch_mm=4.93, source=ScaleSource.RULER)


def drawn(path, seed):
    scene = random_scene(np.random.default_rng(seed), size_px=(480, 320), pitch_px=80.0)
    save_picture(path, paint(scene), scene.camera.distance_mm)
    return path


@pytest.fixture(scope="module")
def pictures(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pictures")
    return [drawn(folder / f"{name}.png", seed) for name, seed in (("a", 2), ("b", 3))]


@pytest.fixture
def page(qtbot, context, pictures):
    made = PhotosPage(context)
    qtbot.addWidget(made)
    made.resize(1100, 720)
    made.show()
    qtbot.waitExposed(made)
    made.arrive()
    made.open_photos([pictures[0]])
    wait_for_end(made, qtbot)
    return made


@pytest.fixture
def gate(monkeypatch):
    """Hold measuring until the gate is opened."""
    opened, measure = threading.Event(), Measurer.measure_loaded

    def wait_and_measure(measurer, *args):
        opened.wait(10)
        return measure(measurer, *args)

    monkeypatch.setattr(Measurer, "measure_loaded", wait_and_measure)
    yield opened
    opened.set()


@pytest.fixture
def key(page, qtbot):
    return partial(qtbot.keyClick, page.comb)


def wait_for_end(page, qtbot):
    """Wait until nothing is measured, nor waits to be."""
    opening = page.opening
    qtbot.waitUntil(
        lambda: opening.job is None and (opening._wanted_move or opening._wanted_size) is None,
        timeout=20_000,
    )
    QApplication.processEvents()


def on_screen(page, point_xy_px):
    x, y = point_xy_px
    return page.comb.mapFromScene(QPointF(float(x) + 0.5, float(y) + 0.5))


def drag_cells(page, qtbot, way):
    viewport, start = page.comb.viewport(), on_screen(page, page.comb.tool.handles_xy_px[MOVE])
    qtbot.mousePress(viewport, LEFT, NO_KEYS, start)
    for share in (0.3, 0.7, 1.0):
        qtbot.mouseMove(viewport, start + (QPointF(way) * share).toPoint())
    qtbot.mouseRelease(viewport, LEFT, NO_KEYS, start + way)


def neighbours(sheet):
    """Return the middles of two cells side by side."""
    first = sheet.cells[len(sheet.cells) // 2]

    def away(cell):
        return np.hypot(*np.subtract(cell.centre_xy_px, first.centre_xy_px))

    second = min((cell for cell in sheet.cells if cell is not first), key=away)
    return first.centre_xy_px, second.centre_xy_px


def scale_on_disk(store, page):
    return sheet_from_json(store.photo_sheet(page.measured.sheet.photo.sha256)).scale


def test_the_ruler_of_one_photo_measures_no_other(page, qtbot, pictures):
    page.hand.scaled.emit(RULER)
    wait_for_end(page, qtbot)
    page.open_photos([pictures[1]])
    wait_for_end(page, qtbot)
    assert page.measured.sheet.photo.name == "b.png"
    scale = page.measured.sheet.scale
    assert (scale.source, scale.pitch_mm) == (ScaleSource.COMB, 5.3)


def test_a_cell_size_that_was_given_measures_the_next_photo_too(page, qtbot, pictures):
    page.bar._pitch.setValue(4.9)
    for picture in (pictures[1], pictures[0]):
        page.open_photos([picture])
        wait_for_end(page, qtbot)
        scale = page.measured.sheet.scale
        assert (scale.source, scale.pitch_mm) == (ScaleSource.GIVEN, 4.9)


def test_cells_laid_anew_keep_the_ruler(page, qtbot):
    page.hand.scaled.emit(RULER)
    wait_for_end(page, qtbot)
    page.hand.cells.laid.emit(neighbours(page.measured.sheet))
    wait_for_end(page, qtbot)
    scale = page.measured.sheet.scale
    assert (scale.source, scale.pitch_mm) == (ScaleSource.RULER, 4.93)


def test_cells_moved_just_before_the_window_closes_are_kept(page, qtbot, context, data, key, gate):
    key(Qt.Key.Key_G)
    drag_cells(page, qtbot, QPoint(24, -16))
    assert page.opening.job is not None
    sha256 = page.measured.sheet.photo.sha256
    threading.Timer(0.2, gate.set).start()
    assert may_leave(page, context)
    with Store.open(data / "records.db", now=context.now()) as again:
        assert again.hand_lattice(sha256) is not None


def test_a_photo_that_is_measured_when_the_window_closes_is_there_next_time(
    page, context, data, gate, pictures
):
    page.open_photos([pictures[1]])
    threading.Timer(0.2, gate.set).start()
    assert may_leave(page, context)
    with Store.open(data / "records.db", now=context.now()) as again:
        assert {photo.name for photo in again.photos()} == {"a.png", "b.png"}


def test_the_last_arrow_key_on_a_line_is_kept_when_the_window_closes(page, context, data, key):
    cells = page.hand.marks.sheet.cells
    index = next(k for k, cell in enumerate(cells) if cell.midline_xy_px)
    page.comb.cell_pressed.emit(index)
    for pressed in (Qt.Key.Key_B, Qt.Key.Key_N, Qt.Key.Key_Right):
        key(pressed)
    sha256 = page.hand.marks.sha256
    assert may_leave(page, context)
    with Store.open(data / "records.db", now=context.now()) as again:
        assert len(again.hand_marks(sha256)) == 1


def test_stop_leaves_the_photo_as_it_was(page, qtbot, store, gate, press):
    page.hand.scaled.emit(RULER)
    job = page.opening.job
    press(page, "Stop")
    assert page.measured.sheet.scale.pitch_mm == 5.3
    gate.set()
    qtbot.waitUntil(lambda: job not in running_jobs(), timeout=20_000)
    assert page.measured.sheet.scale.pitch_mm == 5.3
    assert scale_on_disk(store, page).pitch_mm == 5.3


def running_jobs():
    from larvasight.app import jobs

    return jobs._running


def test_stop_while_cells_are_looked_for_about_two_clicks_stops(page, qtbot, store, gate):
    page.hand.cells.ask_clicks()
    for place in neighbours(page.measured.sheet):
        qtbot.mouseClick(page.comb.viewport(), LEFT, NO_KEYS, on_screen(page, place))
    assert "Looking" in page.hand.strip.words
    job = page.opening.job
    page.hand.leave()
    gate.set()
    qtbot.waitUntil(lambda: job not in running_jobs(), timeout=20_000)
    assert page.measured.sheet.lattice.by_hand is None
    assert store.hand_lattice(page.measured.sheet.photo.sha256) is None


def test_a_ruler_used_while_moved_cells_are_measured_counts_after_them(page, qtbot, key, gate):
    key(Qt.Key.Key_G)
    drag_cells(page, qtbot, QPoint(8, 6))
    key(Qt.Key.Key_Escape)
    page.hand.scaled.emit(RULER)
    gate.set()
    wait_for_end(page, qtbot)
    sheet = page.measured.sheet
    assert (sheet.scale.pitch_mm, sheet.lattice.by_hand) == (4.93, LatticeByHand.MOVED)


def test_of_a_move_and_a_ruler_wanted_meanwhile_none_is_lost(page, qtbot, key, gate, store):
    key(Qt.Key.Key_G)
    drag_cells(page, qtbot, QPoint(6, 0))
    page.hand.scaled.emit(RULER)
    drag_cells(page, qtbot, QPoint(30, 0))
    wanted = first_place(page.hand.cells._now[1])
    page.hand.scaled.emit(RULER)
    gate.set()
    wait_for_end(page, qtbot)
    sheet = page.measured.sheet
    assert sheet.scale.pitch_mm == 4.93
    assert math.dist(first_place(stored_lattice(store, sheet.photo.sha256)[1]), wanted) < 1.0


def first_place(lattice):
    return lattice.cells[0].centre_xy_px


def test_after_stop_the_page_shows_what_is_stored(page, qtbot, key, store, monkeypatch):
    gates, n_begun = [threading.Event(), threading.Event()], [0]
    measure = Measurer.measure_loaded

    def wait_and_measure(measurer, *args):
        n_begun[0] += 1
        gates[n_begun[0] - 1].wait(10)
        return measure(measurer, *args)

    monkeypatch.setattr(Measurer, "measure_loaded", wait_and_measure)
    key(Qt.Key.Key_G)
    drag_cells(page, qtbot, QPoint(24, 0))
    key(Qt.Key.Key_Escape)
    page.hand.scaled.emit(RULER)
    gates[0].set()
    qtbot.waitUntil(lambda: n_begun[0] == 2, timeout=10_000)
    page._stop()
    gates[1].set()
    stored = sheet_from_json(store.photo_sheet(page.measured.sheet.photo.sha256))
    shown = page.hand.marks.sheet
    assert stored.lattice.by_hand is shown.lattice.by_hand is LatticeByHand.MOVED
    assert len(stored.cells) == len(shown.cells)


def test_a_move_that_waits_when_the_window_closes_is_kept(page, qtbot, context, data, key, gate):
    key(Qt.Key.Key_G)
    drag_cells(page, qtbot, QPoint(6, 0))
    drag_cells(page, qtbot, QPoint(30, 0))
    wanted, sha256 = first_place(page.hand.cells._now[1]), page.measured.sheet.photo.sha256
    threading.Timer(0.2, gate.set).start()
    assert may_leave(page, context)
    with Store.open(data / "records.db", now=context.now()) as again:
        assert math.dist(first_place(stored_lattice(again, sha256)[1]), wanted) < 1.0


def test_the_brush_is_put_away_when_the_cells_under_it_move(page, qtbot, key, gate):
    key(Qt.Key.Key_G)
    drag_cells(page, qtbot, QPoint(90, 0))
    key(Qt.Key.Key_Escape)
    cells = page.hand.marks.sheet.cells
    page.comb.cell_pressed.emit(next(k for k, c in enumerate(cells) if c.midline_xy_px))
    page.hand.strip.outline.emit()
    assert page.hand.body.tool is not None
    gate.set()
    wait_for_end(page, qtbot)
    assert page.hand.body.tool is None


@pytest.fixture
def broken(page, qtbot, pictures, store, context, monkeypatch):
    """Show the second photo; the copy of the first is broken and stays in the list."""
    monkeypatch.setattr(photos_page, "ask_yes", lambda *_args, **_kwargs: False)
    page.open_photos([pictures[1]])
    wait_for_end(page, qtbot)
    first = next(photo for photo in store.photos() if photo.name == "a.png")
    own_photos.kept_path(context.folder, first).write_bytes(b"broken")
    return first


def test_what_is_wanted_while_a_photo_cannot_be_opened_is_done_and_nothing_later(
    page, qtbot, pictures, broken
):
    page._open_kept(broken.sha256)
    page.hand.scaled.emit(RULER)
    wait_for_end(page, qtbot)
    sheet = page.measured.sheet
    assert (sheet.photo.name, sheet.scale.pitch_mm) == ("b.png", 4.93)
    page.open_photos([pictures[0]])
    wait_for_end(page, qtbot)
    assert page.measured.sheet.photo.name == "a.png"


def test_photos_opened_while_another_cannot_be_are_opened(page, qtbot, tmp_path, broken):
    third = drawn(tmp_path / "c.png", 5)
    page._open_kept(broken.sha256)
    page.open_photos([third])
    wait_for_end(page, qtbot)
    assert page.measured.sheet.photo.name == "c.png"


def test_the_box_tells_the_cell_size_that_is_used_once_a_photo_is_removed(
    page, qtbot, pictures, monkeypatch
):
    monkeypatch.setattr(photos_page, "ask_yes", lambda *_args, **_kwargs: True)
    page.hand.scaled.emit(RULER)
    wait_for_end(page, qtbot)
    page._ask_forget()
    shown_mm = page.bar._pitch.value()
    page.open_photos([pictures[1]])
    wait_for_end(page, qtbot)
    assert page.measured.sheet.scale.pitch_mm == shown_mm


def test_a_move_kept_while_another_photo_is_measured_hinders_no_later_one(
    page, qtbot, store, key, gate, pictures
):
    first = page.measured.sheet.photo.sha256
    key(Qt.Key.Key_G)
    key(Qt.Key.Key_Right)
    page.open_photos([pictures[1]])
    page.comb.tool.released()
    gate.set()
    wait_for_end(page, qtbot)
    assert page.measured.sheet.photo.name == "b.png"
    assert store.hand_lattice(first) is not None
    key(Qt.Key.Key_Escape)
    key(Qt.Key.Key_G)
    drag_cells(page, qtbot, QPoint(8, 6))
    wait_for_end(page, qtbot)
    assert page.measured.sheet.photo.name == "b.png"
    assert page.measured.sheet.lattice.by_hand is LatticeByHand.MOVED


def test_a_comb_taken_before_its_photo_was_put_right_is_not_asked(page, qtbot, store, context):
    marks = page.hand.marks
    made = PracticePhoto(sha256=marks.sha256, is_all_checked=True, made_at_utc=context.now())
    store.put_practice_photo(made)
    practise = PractisePage(context)
    qtbot.addWidget(practise)
    practise.show()
    practise.begin(PICK_ON_OWN)
    qtbot.waitUntil(lambda: practise.session is not None, timeout=10_000)
    qtbot.waitUntil(lambda: context.supply.n_ready(PICK_ON_OWN) == 1, timeout=10_000)
    for index in range(len(marks.sheet.cells)):
        page.hand.say_content(index, Content.UNCLEAR)
    assert context.supply.n_ready(PICK_ON_OWN) == 0
    practise.stop()


def test_of_the_half_kept_apart_only_the_sum_is_told_and_it_is_asked_once(
    page, qtbot, store, context, words_of, press
):
    marks = page.hand.marks
    made = PracticePhoto(sha256=marks.sha256, is_all_checked=True, made_at_utc=context.now())
    store.put_practice_photo(made)
    practise = PractisePage(context)
    qtbot.addWidget(practise)
    practise.resize(1100, 720)
    practise.show()
    practise.begin(TEST_ON_OWN)
    qtbot.waitUntil(lambda: practise.session is not None, timeout=10_000)
    practise.comb.cell_pressed.emit(0)
    practise.enter()
    qtbot.waitUntil(lambda: practise.is_told, timeout=10_000)
    assert any("kept for the next test" in words for words in words_of(practise))
    assert not any("half hidden" in words for words in words_of(practise))
    sentence = practise.side.why.sentence
    for index in range(practise.comb.n_cells):
        practise.comb.cell_reached.emit(index)
        assert practise.comb.face_of(index).mark is None
    assert practise.side.why.sentence == sentence
    assert not practise.side.why.isVisible()
    press(practise, "Done")
    assert practise.session is None

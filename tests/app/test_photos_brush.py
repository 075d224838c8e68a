"""My photos: a larva's outline is brushed, measured at once, kept, taken back."""

from functools import partial

import cv2
import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtWidgets import QApplication

from larvasight.app.brush_tool import BrushTool
from larvasight.app.line_tool import LineTool
from larvasight.app.photos_page import PhotosPage
from larvasight.render import paint, random_scene, save_picture
from larvasight.sheet import Content

LEFT, NO_KEYS = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    path = tmp_path_factory.mktemp("pictures") / "brood.png"
    scene = random_scene(np.random.default_rng(2), size_px=(480, 320), pitch_px=80.0)
    save_picture(path, paint(scene), scene.camera.distance_mm)
    return path


@pytest.fixture
def page(qtbot, context, picture):
    made = PhotosPage(context)
    qtbot.addWidget(made)
    made.resize(1100, 720)
    made.show()
    qtbot.waitExposed(made)
    made.open_photos([picture])
    qtbot.waitUntil(lambda: made.opening.job is None, timeout=20_000)
    QApplication.processEvents()
    return made


@pytest.fixture
def key(page, qtbot):
    return partial(qtbot.keyClick, page.comb)


@pytest.fixture
def index(page):
    """Choose a measured larva."""
    cells = page.hand.marks.sheet.cells
    found = next(k for k, c in enumerate(cells) if c.age_h is not None and c.outline_xy_px)
    page.comb.cell_pressed.emit(found)
    return found


def cell_at(page, index):
    return page.hand.marks.sheet.cells[index]


def area_px2(outline):
    return cv2.contourArea(np.array(outline, dtype=np.float32))


def drag(page, qtbot, points_xy_px):
    viewport, (first, *others) = page.comb.viewport(), points_xy_px

    def on_screen(point):
        return page.comb.mapFromScene(QPointF(point[0] + 0.5, point[1] + 0.5))

    qtbot.mousePress(viewport, LEFT, NO_KEYS, on_screen(first))
    for point in others:
        qtbot.mouseMove(viewport, on_screen(point))
    qtbot.mouseRelease(viewport, LEFT, NO_KEYS, on_screen(points_xy_px[-1]))


def inside(cell):
    """Return a point on the body's line."""
    return cell.midline_xy_px[len(cell.midline_xy_px) // 2]


def test_a_stroke_from_inside_draws_the_body_out_and_is_kept(page, qtbot, key, index, store):
    before = cell_at(page, index)
    key(Qt.Key.Key_O)
    assert isinstance(page.comb.tool, BrushTool)
    assert "from outside to push it in" in page.hand.strip.words
    heard = []
    page.hand.tried.connect(lambda _index, cell: heard.append(cell.length_mm))
    x, y = inside(before)
    drag(page, qtbot, [(x, y), (x + 8.0, y + 8.0), (x + 16.0, y + 16.0)])
    after = cell_at(page, index)
    assert len(heard) >= 2
    assert after.length_mm != before.length_mm
    assert area_px2(after.outline_xy_px) > area_px2(before.outline_xy_px) + 20.0
    (kept,) = store.hand_marks(page.hand.marks.sha256)
    assert kept.outline_xy_px == after.outline_xy_px
    assert page.comb.face_of(index).is_by_hand


def test_a_stroke_from_outside_pushes_the_body_in(page, qtbot, key, index):
    before = cell_at(page, index)
    key(Qt.Key.Key_O)
    # From a corner of the box about the body to the middle of its line.
    corner = np.array(before.outline_xy_px).min(axis=0) - 6.0
    ends = np.linspace(corner, inside(before), 6)
    drag(page, qtbot, [tuple(point) for point in ends.tolist()])
    after = cell_at(page, index)
    assert area_px2(after.outline_xy_px) < area_px2(before.outline_xy_px) - 10.0


def test_strokes_are_taken_back_one_by_one(page, qtbot, key, index):
    seen = [cell_at(page, index)]
    key(Qt.Key.Key_O)
    x, y = inside(seen[0])
    for far in (10.0, 18.0):
        drag(page, qtbot, [(x, y), (x + far, y + far)])
        seen.append(cell_at(page, index))
    for expected in reversed(seen[:-1]):
        qtbot.keyClick(page.comb, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
        assert cell_at(page, index) == expected
    # The brush goes on from what is shown.
    assert isinstance(page.comb.tool, BrushTool)
    shown, was = area_px2(page.comb.tool.outline_xy_px), area_px2(seen[0].outline_xy_px)
    assert shown == pytest.approx(was, rel=0.06, abs=0)


def test_the_keyboard_brushes_too(page, key, index):
    before = cell_at(page, index)
    key(Qt.Key.Key_O)
    for _ in range(3):
        key(Qt.Key.Key_Right)
    key(Qt.Key.Key_Insert)
    key(Qt.Key.Key_Escape)
    assert page.comb.tool is None
    assert cell_at(page, index).outline_xy_px != before.outline_xy_px


def test_a_larva_that_was_not_outlined_is_brushed_from_nothing(page, qtbot, key, store):
    cells = page.hand.marks.sheet.cells
    index = next(k for k, c in enumerate(cells) if c.content is not Content.LARVA and not c.flags)
    page.comb.cell_pressed.emit(index)
    key(Qt.Key.Key_3)
    key(Qt.Key.Key_O)
    x, y = cells[index].centre_xy_px
    drag(page, qtbot, [(x - 14.0, y), (x - 6.0, y + 9.0), (x + 6.0, y + 9.0), (x + 14.0, y)])
    cell = cell_at(page, index)
    assert cell.age_h is not None
    assert 40.0 < cell.curl_deg < 200.0


def test_a_body_brushed_away_comes_back(page, qtbot, key, index):
    before = cell_at(page, index)
    key(Qt.Key.Key_O)
    low, high = (f(np.array(before.outline_xy_px), axis=0) for f in (np.min, np.max))
    rows = np.arange(low[1] - 8.0, high[1] + 8.0, 3.0)
    sides = [(low[0] - 8.0, high[0] + 8.0), (high[0] + 8.0, low[0] - 8.0)]
    path = [(x, float(y)) for k, y in enumerate(rows) for x in sides[k % 2]]
    drag(page, qtbot, path)
    assert cell_at(page, index) == before
    assert page.comb.tool.outline_xy_px is not None


def test_from_the_line_the_brush_can_be_taken(page, key, index, press):
    key(Qt.Key.Key_B)
    assert isinstance(page.comb.tool, LineTool)
    press(page, "Brush outline")
    assert isinstance(page.comb.tool, BrushTool)
    assert page.comb.tool.index == index


def test_only_larvae_are_brushed(page, key):
    cells = page.hand.marks.sheet.cells
    index = next(k for k, c in enumerate(cells) if c.content is not Content.LARVA and not c.flags)
    page.comb.cell_pressed.emit(index)
    key(Qt.Key.Key_O)
    assert page.comb.tool is None

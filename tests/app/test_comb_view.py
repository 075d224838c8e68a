"""The comb view: where one points is what one gets, however near, turned or moved it is."""

import math
from itertools import combinations

import cv2
import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QImage, QWheelEvent
from PySide6.QtWidgets import QApplication

from larvasight.app.cell_item import MARK_COLOUR, Face, Rim
from larvasight.app.comb_view import CellPlace, CombView
from larvasight.app.images import image_of
from larvasight.app.line_tool import LineTool
from larvasight.paper.marks import EGG_MARK, GRADE_MARKS, OUTCOME_MARKS
from larvasight.practice.scoring import Outcome

SIZE_PX = (640, 480)
PITCH_PX = 80.0
N_ROWS, N_COLUMNS = 5, 6
LEFT, NO_KEYS = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier


def places(turned_deg=0.0):
    """Return cells in rows, every second row half a step to the right, all turned about."""
    turn = complex(math.cos(math.radians(turned_deg)), math.sin(math.radians(turned_deg)))
    middle = complex(SIZE_PX[0], SIZE_PX[1]) / 2.0
    found = []
    for row in range(N_ROWS):
        for column in range(N_COLUMNS):
            x = (column - (N_COLUMNS - 1) / 2.0 + 0.5 * (row % 2)) * PITCH_PX
            y = (row - (N_ROWS - 1) / 2.0) * PITCH_PX * math.sqrt(3.0) / 2.0
            at = middle + complex(x, y) * turn
            found.append(CellPlace(centre_xy_px=(at.real, at.imag), pitch_px=PITCH_PX))
    return found


@pytest.fixture
def make_view(qtbot, dressing):
    def make(turned_deg=0.0, cells=None):
        view = CombView()
        qtbot.addWidget(view)
        view.resize(*SIZE_PX)
        pixels = np.full((SIZE_PX[1], SIZE_PX[0], 3), 150, np.uint8)
        # A picture that shows where it lies: darker to the left.
        pixels[..., 0] = np.linspace(90, 200, SIZE_PX[0]).astype(np.uint8)
        view.show_comb(image_of(pixels), cells or places(turned_deg), turned_deg)
        view.show()
        qtbot.waitExposed(view)
        view.pressed, view.reached = [], []
        view.cell_pressed.connect(view.pressed.append)
        view.cell_reached.connect(view.reached.append)
        return view

    return make


@pytest.fixture
def view(make_view):
    return make_view()


@pytest.fixture
def click(qtbot):
    def _click(view, point, button=LEFT):
        qtbot.mouseClick(view.viewport(), button, NO_KEYS, point)

    return _click


@pytest.fixture
def drag(qtbot):
    def _drag(view, start, *stops):
        qtbot.mousePress(view.viewport(), LEFT, NO_KEYS, start)
        for stop in stops:
            qtbot.mouseMove(view.viewport(), stop)
        qtbot.mouseRelease(view.viewport(), LEFT, NO_KEYS, stops[-1])

    return _drag


def cell_index(row, column):
    return row * N_COLUMNS + column


def zoom_of(view):
    return view.transform().m11()


def grabbed(view):
    QApplication.processEvents()
    image = view.viewport().grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    data = np.frombuffer(image.constBits(), np.uint8)
    return data.reshape(image.height(), image.width(), 4)[..., 2::-1].astype(int).copy()


def box_about(view, index, reach_px):
    at = view.centre_on_screen(index)
    return QRect(at.x() - reach_px, at.y() - reach_px, 2 * reach_px, 2 * reach_px)


def part(pixels, box):
    return pixels[max(box.top(), 0) : box.bottom(), max(box.left(), 0) : box.right()]


@pytest.mark.parametrize("turned_deg", [0.0, 14.0, -30.0])
def test_a_click_tells_which_cell_was_clicked(make_view, click, turned_deg):
    view = make_view(turned_deg)
    for index in range(view.n_cells):
        click(view, view.centre_on_screen(index))
    assert view.pressed == list(range(view.n_cells))


@pytest.mark.parametrize("turned_deg", [0.0, 14.0])
def test_a_cell_can_be_clicked_up_to_its_corners(make_view, click, turned_deg):
    view = make_view(turned_deg)
    index = cell_index(2, 3)
    middle = view.centre_on_screen(index)
    # The first corner lies 30 degrees from the row, the wall between corners along it.
    for away_deg, side_px in ((30.0, PITCH_PX / math.sqrt(3.0)), (0.0, PITCH_PX / 2.0)):
        way = math.radians(turned_deg + away_deg)
        for share, expected in ((0.87, [index]), (0.96, [])):
            view.pressed.clear()
            reach = share * side_px
            click(view, middle + QPoint(round(reach * math.cos(way)), round(reach * math.sin(way))))
            assert view.pressed == expected


def test_clicks_beside_all_cells_do_nothing(view, click):
    between = (view.centre_on_screen(0) + view.centre_on_screen(1)) / 2
    for point in (between, QPoint(2, 2), QPoint(SIZE_PX[0] - 3, SIZE_PX[1] - 3)):
        click(view, point)
    assert view.pressed == []
    assert view.place is None


def test_the_right_button_presses_nothing(view, click):
    click(view, view.centre_on_screen(4), Qt.MouseButton.RightButton)
    assert view.pressed == []


def test_a_fast_second_click_counts(view, qtbot, click):
    at = view.centre_on_screen(7)
    click(view, at)
    qtbot.mouseDClick(view.viewport(), LEFT, NO_KEYS, at)
    qtbot.mouseRelease(view.viewport(), LEFT, NO_KEYS, at)
    assert view.pressed == [7, 7]


def test_the_first_arrow_goes_to_the_middle(view, qtbot):
    qtbot.keyClick(view, Qt.Key.Key_Left)
    away = [math.dist(cell.centre_xy_px, (320.0, 240.0)) for cell in places()]
    assert view.reached == [view.place]
    assert away[view.place] == min(away)


@pytest.mark.parametrize(
    ("key", "way"),
    [
        (Qt.Key.Key_Left, (-1, 0)),
        (Qt.Key.Key_Right, (1, 0)),
        (Qt.Key.Key_Up, (0, -1)),
        (Qt.Key.Key_Down, (0, 1)),
    ],
)
@pytest.mark.parametrize("turned_deg", [0.0, 14.0, -25.0])
def test_an_arrow_goes_to_the_neighbour_in_its_direction(make_view, qtbot, key, way, turned_deg):
    view = make_view(turned_deg)
    cells = places(turned_deg)
    start = cell_index(2, 2)
    view.set_place(start)
    qtbot.keyClick(view, key)
    (x0, y0), (x1, y1) = cells[start].centre_xy_px, cells[view.place].centre_xy_px
    assert math.hypot(x1 - x0, y1 - y0) == pytest.approx(PITCH_PX, abs=1e-6)
    # A neighbour lies at most 30 degrees off the arrow, six of them being 60 degrees apart.
    along = (x1 - x0) * way[0] + (y1 - y0) * way[1]
    assert along >= PITCH_PX * math.cos(math.radians(30.0)) - 1e-6
    assert view.reached == [view.place]
    assert view.pressed == []


def test_arrows_reach_every_cell_and_stay_on_the_comb(view, qtbot):
    reached, left = {0}, [0]
    while left:
        start = left.pop()
        for key in (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down):
            view.set_place(start)
            qtbot.keyClick(view, key)
            if view.place not in reached:
                reached.add(view.place)
                left.append(view.place)
    assert reached == set(range(view.n_cells))


def test_space_presses_where_the_keyboard_is(view, qtbot):
    qtbot.keyClick(view, Qt.Key.Key_Space)
    assert view.pressed == []
    view.set_place(5)
    qtbot.keyClick(view, Qt.Key.Key_Space)
    assert view.pressed == [5]


def test_the_keyboard_goes_on_from_the_cell_clicked_last(view, qtbot, click):
    click(view, view.centre_on_screen(cell_index(1, 1)))
    qtbot.keyClick(view, Qt.Key.Key_Right)
    assert view.place == cell_index(1, 2)


def test_the_place_of_the_keyboard_is_seen(view):
    before = grabbed(view)
    view.set_place(cell_index(2, 2))
    after = grabbed(view)
    changed = np.abs(after - before).max(axis=2) > 30
    box = box_about(view, cell_index(2, 2), 60)
    assert part(changed, box).sum() == changed.sum() > 100
    view.set_place(None)
    assert (grabbed(view) == before).all()


def test_zoom_goes_in_out_and_back_to_all(view, qtbot):
    whole = zoom_of(view)
    qtbot.keyClick(view, Qt.Key.Key_Plus)
    nearer = zoom_of(view)
    assert nearer > 1.1 * whole
    qtbot.keyClick(view, Qt.Key.Key_Equal)
    assert zoom_of(view) > 1.1 * nearer
    qtbot.keyClick(view, Qt.Key.Key_Minus)
    assert zoom_of(view) == pytest.approx(nearer, rel=1e-6)
    qtbot.keyClick(view, Qt.Key.Key_0)
    assert zoom_of(view) == pytest.approx(whole, rel=1e-6)


def test_zoom_has_ends(view, qtbot):
    whole = zoom_of(view)
    qtbot.keyClick(view, Qt.Key.Key_Minus)
    assert zoom_of(view) == pytest.approx(whole, rel=1e-6)
    for _ in range(40):
        qtbot.keyClick(view, Qt.Key.Key_Plus)
    assert 8.0 * whole < zoom_of(view) < 20.0 * whole


@pytest.mark.parametrize(("turn", "is_nearer"), [(120, True), (240, True), (-120, False)])
def test_the_wheel_zooms(view, turn, is_nearer):
    view.zoom_by(2.0)
    before = zoom_of(view)
    at = QPointF(view.centre_on_screen(9))
    wheel = QWheelEvent(
        at,
        QPointF(view.viewport().mapToGlobal(at)),
        QPoint(),
        QPoint(0, turn),
        Qt.MouseButton.NoButton,
        NO_KEYS,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(view.viewport(), wheel)
    assert (zoom_of(view) > before) == is_nearer


def test_dragging_moves_a_zoomed_picture_and_presses_nothing(view, drag):
    view.look_closer(cell_index(2, 2))
    before = view.centre_on_screen(0)
    drag(view, QPoint(300, 200), QPoint(330, 225), QPoint(390, 240))
    assert view.pressed == []
    moved = view.centre_on_screen(0) - before
    assert moved.x() == pytest.approx(90, abs=2)
    assert moved.y() == pytest.approx(40, abs=2)


def test_a_shaking_hand_still_clicks(view, drag):
    view.look_closer(cell_index(2, 2))
    at = view.centre_on_screen(cell_index(2, 2))
    drag(view, at, at + QPoint(3, 2), at + QPoint(2, -2))
    assert view.pressed == [cell_index(2, 2)]


def test_after_a_drag_the_next_click_counts(view, drag, click):
    view.look_closer(cell_index(2, 2))
    drag(view, QPoint(300, 200), QPoint(330, 225), QPoint(340, 240))
    click(view, view.centre_on_screen(cell_index(2, 2)))
    assert view.pressed == [cell_index(2, 2)]


@pytest.mark.parametrize("index", [0, N_COLUMNS - 1, cell_index(2, 2), cell_index(N_ROWS - 1, 0)])
def test_looking_closer_brings_a_cell_to_the_middle(view, qtbot, index):
    whole = zoom_of(view)
    view.set_place(index)
    qtbot.keyClick(view, Qt.Key.Key_C)
    middle = view.viewport().rect().center()
    away = view.centre_on_screen(index) - middle
    assert abs(away.x()) <= 2
    assert abs(away.y()) <= 2
    width_px = PITCH_PX * zoom_of(view)
    assert 0.35 * SIZE_PX[1] < width_px < 0.55 * SIZE_PX[1]
    qtbot.keyClick(view, Qt.Key.Key_C)
    assert zoom_of(view) == pytest.approx(whole, rel=1e-6)


def test_a_cell_cut_by_the_edge_of_the_picture_comes_to_the_middle_too(make_view):
    corners = [(4.0, 4.0), (635.0, 475.0)]
    view = make_view(cells=[CellPlace(centre_xy_px=xy, pitch_px=PITCH_PX) for xy in corners])
    for index in range(2):
        view.see_all()
        view.look_closer(index)
        away = view.centre_on_screen(index) - view.viewport().rect().center()
        assert away.manhattanLength() <= 4


def test_zoomed_cells_are_clicked_where_they_are_seen(view, click):
    view.look_closer(cell_index(3, 4))
    click(view, view.centre_on_screen(cell_index(3, 4)))
    view.zoom_by(0.7)
    click(view, view.centre_on_screen(cell_index(3, 4)))
    assert view.pressed == [cell_index(3, 4)] * 2


def test_the_whole_picture_stays_in_view_when_the_window_shrinks(view):
    view.resize(400, 300)
    QApplication.processEvents()
    first, last = view.centre_on_screen(0), view.centre_on_screen(view.n_cells - 1)
    assert view.viewport().rect().contains(first)
    assert view.viewport().rect().contains(last)
    assert zoom_of(view) == pytest.approx(400 / 640, rel=0.02)


def faces():
    shown = {
        "bare": Face(),
        "faint": Face(rim=Rim.FAINT),
        "pencil": Face(rim=Rim.PENCIL),
        "ink": Face(rim=Rim.INK),
        "words": Face(rim=Rim.FAINT, words="21 h"),
        "left": Face(rim=Rim.OPEN_VERDICT, mark=OUTCOME_MARKS[Outcome.MISSED]),
    }
    marks = {*OUTCOME_MARKS.values(), *GRADE_MARKS.values(), EGG_MARK}
    for mark in sorted(marks, key=lambda mark: mark.word):
        if mark is not OUTCOME_MARKS[Outcome.MISSED]:
            shown[mark.word] = Face(rim=Rim.VERDICT, mark=mark)
    return shown


def test_every_face_is_drawn_differently(view):
    index = cell_index(2, 2)
    box = box_about(view, index, round(0.6 * PITCH_PX))
    bare = grabbed(view)
    drawn = {}
    for name, face in faces().items():
        view.set_face(index, face)
        assert view.face_of(index) == face
        pixels = grabbed(view)
        changed = np.abs(pixels - bare).max(axis=2) > 0
        # Nothing is drawn on other cells.
        assert changed.sum() == part(changed, box).sum()
        drawn[name] = part(pixels, box)
    alike = {"take": "right", "just past the limit": "borderline"}
    for one, other in combinations(drawn, 2):
        if alike.get(one) == other or alike.get(other) == one:
            continue
        differing = np.abs(drawn[one] - drawn[other]).max(axis=2) > 40
        assert differing.sum() >= 25, (one, other)


def test_another_comb_has_bare_faces_and_no_place(view):
    view.set_face(3, Face(rim=Rim.INK))
    view.set_place(3)
    view.zoom_by(3.0)
    view.show_comb(image_of(np.zeros((240, 320, 3), np.uint8)), places()[:4], 0.0)
    assert view.n_cells == 4
    assert [view.face_of(index) for index in range(4)] == [Face()] * 4
    assert view.place is None


def test_an_empty_view_can_be_clicked_and_steered(view, qtbot, click):
    view.clear()
    assert view.n_cells == 0
    click(view, QPoint(320, 240))
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Space, Qt.Key.Key_Plus, Qt.Key.Key_C):
        qtbot.keyClick(view, key)
    assert view.pressed == view.reached == []


@pytest.mark.parametrize(
    "face",
    [
        Face(words="123\N{EN DASH}145 h"),
        Face(is_by_hand=True),
    ],
    ids=["words", "sign"],
)
@pytest.mark.parametrize("centre", [(300.0, 4.0), (300.0, 474.0), (2.0, 250.0), (637.0, 250.0)])
def test_what_is_drawn_on_a_cell_that_the_edge_of_the_picture_cuts_stays_whole(
    make_view, centre, face
):
    cells = [CellPlace(centre_xy_px=at, pitch_px=PITCH_PX) for at in ((320.0, 240.0), centre)]
    view = make_view(cells=cells)
    bare = grey_of(view)
    drawn = []
    for index in range(2):
        view.set_face(index, face)
        drawn.append(np.count_nonzero(np.abs(grey_of(view) - bare) > 20))
        view.set_face(index, Face())
    assert drawn[0] > 50
    assert drawn[1] == pytest.approx(drawn[0], rel=0.15)


@pytest.mark.parametrize("centre", [(300.0, 4.0), (300.0, 474.0), (6.0, 250.0), (6.0, 4.0)])
def test_the_tab_of_a_marked_cell_is_whole_where_the_edge_of_the_picture_cuts_the_cell(
    make_view, centre
):
    cells = [CellPlace(centre_xy_px=at, pitch_px=PITCH_PX) for at in ((320.0, 240.0), centre)]
    view = make_view(cells=cells)
    tabs = []
    for index in range(2):
        view.set_face(index, Face(rim=Rim.INK))
        shown = view.viewport().grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
        rows = np.frombuffer(shown.constBits(), np.uint8).reshape(shown.height(), -1)
        pixels = rows[:, : 3 * shown.width()].reshape(shown.height(), -1, 3).astype(int)
        yellow = np.abs(pixels - MARK_COLOUR.getRgb()[:3]).max(axis=2) < 30
        # Lines about cells are less than three px wide and vanish.
        tabs.append(cv2.erode(yellow.astype(np.uint8), np.ones((3, 3), np.uint8)).sum())
        view.set_face(index, Face())
    assert tabs[0] > 15
    assert tabs[1] == pytest.approx(tabs[0], rel=0.15)


def test_sign_and_words_give_way_while_the_body_under_them_is_moved(make_view):
    view = make_view(cells=[CellPlace(centre_xy_px=(320.0, 240.0), pitch_px=PITCH_PX)])
    bare = grey_of(view)
    face = Face(words="21 h", is_by_hand=True)
    before = drawn_by(view, face, bare)
    # Its handles lie far from the cell.
    tool = LineTool(0, ((20.0, 20.0), (40.0, 20.0), (60.0, 20.0)))
    view.set_tool(tool)
    assert not (drawn_by(view, face, bare) & before).any()
    view.set_tool(None)
    np.testing.assert_array_equal(drawn_by(view, face, bare), before)


@pytest.mark.parametrize("centre", [(300.0, 3.0), (637.0, 240.0), (320.0, 240.0)])
def test_words_and_sign_of_a_cell_do_not_cover_each_other(make_view, centre):
    hours = "123\N{EN DASH}145 h"
    faces = (Face(words=hours), Face(is_by_hand=True), Face(words=hours, is_by_hand=True))
    view = make_view(cells=[CellPlace(centre_xy_px=centre, pitch_px=PITCH_PX)])
    bare = grey_of(view)
    words, sign, both = (drawn_by(view, face, bare).sum() for face in faces)
    assert both == pytest.approx(words + sign, rel=0, abs=10)


def drawn_by(view, face, bare):
    view.set_face(0, face)
    return np.abs(grey_of(view) - bare) > 20


def grey_of(view):
    """Return the grey levels that a view shows, shape (H, W)."""
    image = view.viewport().grab().toImage().convertToFormat(QImage.Format.Format_Grayscale8)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1)
    return rows[:, : image.width()].astype(int)

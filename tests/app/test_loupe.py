"""The loupe: a card matches the screen, cells stand in their true size, the rest is dark."""

import math

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QDialog, QMenu

from larvasight.app import card_dialog
from larvasight.app.card_dialog import CardDialog, choose_magnification
from larvasight.app.comb_frame import CombFrame
from larvasight.app.comb_view import CellPlace, CombView
from larvasight.app.images import image_of
from larvasight.app.loupe import Loupe, words_of
from larvasight.app.loupe_menu import add_loupe_menu
from larvasight.app.settings import WindowSettings

VIEW_PX = (420, 360)
PITCH_PX, PITCH_MM = 40.0, 5.3
# 3 px to the mm: a round field of 60 mm at 2.5 times would be 450 px, more than the view.
CARD_PX = 3.0 * 85.60
LEFT, NO_KEYS = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier


@pytest.fixture
def loupe(settings):
    return Loupe(settings)


@pytest.fixture
def view(qtbot, dressing, loupe):
    made = CombView(loupe)
    qtbot.addWidget(made)
    made.resize(*VIEW_PX)
    made.show()
    qtbot.waitExposed(made)
    show_comb(made)
    loupe.match(made.screen(), CARD_PX)
    return made


def show_comb(view, n_rows=20, n_columns=30, scrolls=False):
    height_px, width_px = round(n_rows * 34.64) + 20, n_columns * 40 + 40
    cells = [
        CellPlace(
            centre_xy_px=(30.0 + PITCH_PX * (column + 0.5 * (row % 2)), 27.0 + 34.64 * row),
            pitch_px=PITCH_PX,
        )
        for row in range(n_rows)
        for column in range(n_columns)
    ]
    pixels = np.full((height_px, width_px, 3), 180, np.uint8)
    scale = PITCH_PX / PITCH_MM
    view.show_comb(image_of(pixels), cells, 0.0, px_per_mm=scale, scrolls=scrolls)


def pitch_on_screen(view, first=0):
    one, other = view.centre_on_screen(first), view.centre_on_screen(first + 10)
    return (other.x() - one.x()) / 10.0


def settle(view, qtbot):
    qtbot.waitUntil(lambda: view.glide.target == scrolled(view))


def scrolled(view):
    return QPoint(view.horizontalScrollBar().value(), view.verticalScrollBar().value())


def brightness(view, point):
    QApplication.processEvents()
    return view.viewport().grab().toImage().pixelColor(point).lightness()


@pytest.mark.parametrize(("magnification", "pitch_mm"), [(2.5, 13.25), (3.5, 18.55), (8.0, 42.4)])
def test_cells_measure_on_the_screen_what_the_loupe_shows(view, loupe, magnification, pitch_mm):
    loupe.use(magnification)
    assert pitch_on_screen(view) / 3.0 == pytest.approx(pitch_mm, abs=0.05)


def test_a_screen_of_finer_dots_keeps_the_size_in_mm(view, loupe):
    loupe.match(view.screen(), 2.0 * CARD_PX)
    loupe.use(2.5)
    assert pitch_on_screen(view) / 6.0 == pytest.approx(13.25, abs=0.05)


def test_without_a_loupe_the_whole_comb_is_in_view_as_before(view, loupe):
    before = view.transform().m11()
    loupe.use(3.5)
    loupe.use(None)
    assert view.transform().m11() == pytest.approx(before, rel=1e-6)
    assert not view.is_in_loupe


def test_nothing_changes_on_a_screen_that_was_never_matched(qtbot, dressing, settings):
    made = CombView(Loupe(settings))
    qtbot.addWidget(made)
    made.resize(*VIEW_PX)
    show_comb(made)
    before = made.transform().m11()
    made._loupe.use(2.5)
    assert made.transform().m11() == before


def test_it_is_dark_around_a_round_field_and_nothing_is_pressed_there(view, loupe, qtbot):
    loupe.use(2.5)
    middle, corner = view.viewport().rect().center(), QPoint(12, 12)
    assert brightness(view, middle + QPoint(60, 0)) > 100
    assert brightness(view, corner) < 25
    pressed = []
    view.cell_pressed.connect(pressed.append)
    assert view.cell_at(corner) is None
    qtbot.mouseClick(view.viewport(), LEFT, NO_KEYS, corner)
    assert pressed == []
    qtbot.mouseClick(view.viewport(), LEFT, NO_KEYS, middle)
    assert len(pressed) == 1


def test_the_microscope_has_no_dark_around(view, loupe):
    loupe.use(8.0)
    assert brightness(view, QPoint(12, 12)) > 100


def test_arrow_keys_move_the_loupe_before_its_rim_is_reached(view, loupe, qtbot):
    loupe.use(2.5)
    middle, before = view.viewport().rect().center(), view.middle
    for _ in range(9):
        qtbot.keyClick(view, Qt.Key.Key_Right)
        settle(view, qtbot)
        away = view.centre_on_screen(view.place) - middle
        assert math.hypot(away.x(), away.y()) < 0.75 * min(VIEW_PX) / 2
    assert view.middle.x() > before.x() + 100


def test_the_loupe_is_dragged_no_further_than_the_comb(view, loupe, qtbot):
    loupe.use(2.5)
    view.glide.move_by(QPoint(100_000, 100_000))
    last = view.centre_on_screen(view.n_cells - 1) - view.viewport().rect().center()
    assert last.manhattanLength() < 3.0 * 13.25 * 2
    view.glide.move_by(QPoint(-200_000, -200_000))
    first = view.centre_on_screen(0) - view.viewport().rect().center()
    assert first.manhattanLength() < 3.0 * 13.25 * 2


def test_plus_and_minus_take_the_next_loupe_and_zero_puts_it_away(view, loupe, qtbot):
    loupe.use(2.5)
    for key, expected in (
        (Qt.Key.Key_Plus, 3.5),
        (Qt.Key.Key_Plus, 8.0),
        (Qt.Key.Key_Plus, 8.0),
        (Qt.Key.Key_Minus, 3.5),
        (Qt.Key.Key_0, None),
    ):
        qtbot.keyClick(view, key)
        assert loupe.magnification == expected


def test_m_takes_one_loupe_after_the_other(view, loupe, qtbot):
    taken = []
    for _ in range(4):
        qtbot.keyClick(view, Qt.Key.Key_M)
        taken.append(loupe.magnification)
    assert taken == [2.5, 3.5, 8.0, None]


def test_the_loupe_and_the_screen_are_remembered(view, loupe, settings, folder):
    loupe.use(3.5)
    again = Loupe(WindowSettings(folder / "settings"))
    assert again.magnification == 3.5
    assert again.px_per_mm(view.screen()) == pytest.approx(3.0)


@pytest.mark.parametrize("stored", ["", "strong", "7.0", "-2", "nan"])
def test_a_loupe_that_nobody_offers_is_not_taken(settings, stored):
    settings._stored.setValue("magnification", stored)
    assert Loupe(settings).magnification is None


@pytest.mark.parametrize("stored", ["", "many", "-3", "0", "1e9", "nan"])
def test_a_size_no_screen_has_is_forgotten(settings, stored):
    settings._stored.setValue("screens/one", stored)
    assert settings.screen_dots_per_mm("one") is None


def test_a_card_that_fits_tells_the_size_of_dots(qtbot, dressing, view, loupe):
    dialog = CardDialog(view, loupe)
    qtbot.addWidget(dialog)
    dialog.slider.setValue(300)
    dialog.show()
    qtbot.keyClick(dialog.slider, Qt.Key.Key_Right)
    assert dialog.slider.value() == 301
    dialog.use()
    assert loupe.px_per_mm(view.screen()) == pytest.approx(301 / 85.60)
    dialog.close()


def test_the_first_loupe_asks_for_a_card_and_none_is_taken_where_that_is_broken_off(
    monkeypatch, qtbot, dressing, settings
):
    made = CombView(Loupe(settings))
    qtbot.addWidget(made)
    asked = []

    def answer(dialog):
        asked.append(dialog)
        return QDialog.DialogCode.Rejected

    monkeypatch.setattr(card_dialog.CardDialog, "exec", answer)
    assert not choose_magnification(made, made._loupe, 2.5)
    assert len(asked) == 1
    assert made._loupe.magnification is None
    assert choose_magnification(made, made._loupe, None)
    assert len(asked) == 1


def test_the_line_below_the_comb_and_the_menu_follow_the_loupe(qtbot, dressing, loupe):
    frame = CombFrame(dressing, loupe)
    qtbot.addWidget(frame)
    menu = QMenu(frame)
    add_loupe_menu(menu, frame, loupe)
    loupe.match(frame.screen(), CARD_PX)
    loupe.use(3.5)
    assert frame.loupes.currentText() == words_of(3.5)
    inner = menu.actions()[0].menu()
    ticked = [action.text() for action in inner.actions() if action.isChecked()]
    assert ticked == [words_of(3.5)]
    next(a for a in inner.actions() if a.text() == words_of(8.0)).trigger()
    assert frame.loupes.currentText() == words_of(8.0)


def test_a_whole_side_opens_with_cells_that_can_be_judged(view):
    show_comb(view, n_rows=40, n_columns=60, scrolls=True)
    assert 90.0 < pitch_on_screen(view) < 120.0
    assert view.n_unseen > 2000


def wheel(view, x, y, keys=NO_KEYS):
    at = QPointF(view.viewport().rect().center())
    event = QWheelEvent(
        at,
        QPointF(view.viewport().mapToGlobal(at)),
        QPoint(),
        QPoint(x, y),
        Qt.MouseButton.NoButton,
        keys,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(view.viewport(), event)


def test_the_wheel_moves_a_whole_side_and_zooms_with_ctrl(view, qtbot):
    show_comb(view, scrolls=True)
    before, zoom = view.middle, view.transform().m11()
    wheel(view, 0, -120)
    settle(view, qtbot)
    assert view.middle.y() > before.y() + 10
    assert view.transform().m11() == zoom
    wheel(view, 0, -120, Qt.KeyboardModifier.ShiftModifier)
    settle(view, qtbot)
    assert view.middle.x() > before.x() + 10
    wheel(view, 0, 120, Qt.KeyboardModifier.ControlModifier)
    assert view.transform().m11() > zoom


def test_a_side_is_moved_no_further_than_its_edges(view, qtbot):
    show_comb(view, scrolls=True)
    for _ in range(30):
        qtbot.keyClick(view, Qt.Key.Key_End)
        qtbot.keyClick(view, Qt.Key.Key_PageDown)
    settle(view, qtbot)
    corner = view.mapToScene(view.viewport().rect().bottomRight())
    assert corner.x() <= 30 * 40 + 41
    assert corner.y() <= round(20 * 34.64) + 21
    assert view.viewport().rect().contains(view.centre_on_screen(view.n_cells - 1))


def test_arrow_keys_bring_the_next_cell_of_a_side_into_view(view, qtbot):
    show_comb(view, scrolls=True)
    for _ in range(8):
        qtbot.keyClick(view, Qt.Key.Key_Right)
        settle(view, qtbot)
        assert view.viewport().rect().contains(view.centre_on_screen(view.place))


def test_cells_of_a_side_count_as_seen_once_they_were_in_view(view, qtbot):
    show_comb(view, n_rows=12, n_columns=12, scrolls=True)
    QApplication.processEvents()
    assert 0 < view.n_unseen < view.n_cells
    for key in (Qt.Key.Key_Home, Qt.Key.Key_PageUp, Qt.Key.Key_End, Qt.Key.Key_PageDown):
        for _ in range(4):
            qtbot.keyClick(view, key)
            settle(view, qtbot)
            QApplication.processEvents()
    at_edges = view.n_unseen
    view.glide.move_by(QPoint(-10_000, 0))
    QApplication.processEvents()
    assert view.n_unseen <= at_edges < view.n_cells


def test_a_picture_shown_small_is_not_torn_from_its_dots(qtbot, dressing):
    """Stripes finer than the screen's dots come out grey, not as stripes of another width."""
    made = CombView()
    qtbot.addWidget(made)
    made.resize(400, 300)
    made.show()
    qtbot.waitExposed(made)
    pixels = np.zeros((1200, 1600, 3), np.uint8)
    pixels[:, ::2] = 255
    made.show_comb(image_of(pixels), [], 0.0)
    QApplication.processEvents()
    image = made.viewport().grab().toImage()
    row = [image.pixelColor(x, 150).lightness() for x in range(50, 350)]
    assert max(row) - min(row) < 12
    assert math.isclose(sum(row) / len(row), 127.5, abs_tol=3.0)

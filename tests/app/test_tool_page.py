"""Where the tool goes in, in the window: tool, hand and tip by mouse or keyboard, told at once."""

import math

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QPushButton

from larvasight.app import tool_page
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.tool_page import ToolPage
from larvasight.app.tool_words import MARKS, told_words
from larvasight.desk.tool_entry import standing_of
from larvasight.errors import AssetMissingError
from larvasight.practice import Answer
from larvasight.practice.drills import TOOL_GOES_IN
from larvasight.practice.tool_entry import EntryTool, Hand, Judged, Landing, good_zone, judge
from larvasight.practice.tool_steps import N_CELLS, ToolStep

WAIT_MS = 20_000
LEFT = Qt.MouseButton.LeftButton
SHIFT = Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def page(qtbot, context):
    made = ToolPage(context)
    qtbot.addWidget(made)
    made.resize(1000, 700)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.leave()
    wait_for_jobs()


@pytest.fixture
def press_soon(qtbot, page):
    """Return a function that presses a button with these words as soon as it is there."""

    def press(words):
        def there():
            every = page.findChildren(QPushButton)
            return [each for each in every if each.text() == words and each.isVisible()]

        qtbot.waitUntil(lambda: len(there()) == 1)
        qtbot.mouseClick(there()[0], LEFT)

    return press


@pytest.fixture
def bout(page, qtbot, press_soon):
    page.begin(TOOL_GOES_IN)
    press_soon("Begin: I graft with my right hand")
    qtbot.waitUntil(lambda: page.sight.isVisible(), timeout=WAIT_MS)
    return page.bout


def put_behind(page):
    """Put the tip into the zone where the tool goes in."""
    zone = good_zone(page.bout.cell.floor, page.sight.tool)[0]
    n = len(zone) // 2
    middle = (zone[n // 2] + zone[-1 - n // 2]) / 2.0
    page.sight.put_tip(float(middle[0]), float(middle[1]))


def enter(page, qtbot):
    qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.sight.is_told, timeout=WAIT_MS)


def kept(context):
    context.keeper.flush(5.0)
    return context.store.kept_rounds(context.learner.id, [TOOL_GOES_IN.key])


def test_it_says_first_what_it_is_about_and_that_no_study_was_found(page, words_of):
    page.begin(TOOL_GOES_IN)
    words = " ".join(words_of(page))
    assert "never against the open side" in words
    assert "no study of it was found" in words


def test_a_tip_behind_the_back_is_a_hit_that_is_kept(page, bout, qtbot, context, words_of):
    assert not page.side.enter_button.isEnabled()
    put_behind(page)
    assert page.side.enter_button.isEnabled()
    enter(page, qtbot)
    words = words_of(page.side)
    assert "Hit" in words
    assert any("Same side up" in each for each in words)
    assert [one.answers for one in kept(context)] == [(Answer.HIT,)]


def test_a_tip_on_the_open_side_is_told_so(page, bout, qtbot, context, words_of):
    floor = bout.cell.floor
    line = floor.line_xy_mm
    back = line[len(line) // 2]
    chord = (line[0] + line[-1]) / 2.0
    for share in np.linspace(0.4, 1.6, 25):
        x, y = (float(v) for v in back + share * (chord - back))
        page.sight.put_tip(x, y)
        if judge(page.sight.entry, floor).landing is Landing.OPEN_SIDE:
            break
    enter(page, qtbot)
    assert "Open side" in words_of(page.side)
    assert kept(context)[0].answers == (Answer.OPEN_SIDE,)


def test_arrows_move_the_cross_a_tenth_of_a_mm_and_with_shift_half_a_mm(page, bout, qtbot):
    qtbot.keyClick(page.sight, Qt.Key.Key_Right)  # it comes up in the middle first
    x, y = page.sight.entry.tip_xy_mm
    qtbot.keyClick(page.sight, Qt.Key.Key_Right)
    qtbot.keyClick(page.sight, Qt.Key.Key_Down, SHIFT)
    assert page.sight.entry.tip_xy_mm == pytest.approx((x + 0.1, y + 0.5))


def test_a_click_puts_the_tip_there(page, bout, qtbot):
    middle = page.sight.rect().center()
    qtbot.mouseClick(page.sight, LEFT, pos=middle + QPoint(40, -20))
    opening = bout.cell.floor.opening_xy_mm
    scale = min(page.sight.width(), page.sight.height()) / (1.26 * 5.3)
    x, y = page.sight.entry.tip_xy_mm
    assert (x - opening[0]) * scale == pytest.approx(40.0, abs=1.0)
    assert (y - opening[1]) * scale == pytest.approx(-20.0, abs=1.0)


def test_the_tip_stays_in_the_cell(page, bout):
    page.sight.put_tip(50.0, 0.0)
    x, y = np.array(page.sight.entry.tip_xy_mm) - bout.cell.floor.opening_xy_mm
    assert math.hypot(x, y) < 3.5


def test_keys_choose_tool_and_hand_and_turn_a_hook(page, bout, qtbot):
    qtbot.keyClick(page.sight, Qt.Key.Key_2)
    assert page.sight.tool is EntryTool.RIGID
    page.sight.put_tip(0.0, 0.0)
    assert page.sight.entry.from_deg == 0.0
    qtbot.keyClick(page.sight, Qt.Key.Key_PageDown)
    assert page.sight.entry.from_deg == 10.0
    for _ in range(20):  # no farther than the hand can hold it
        qtbot.keyClick(page.sight, Qt.Key.Key_PageDown)
    assert page.sight.entry.from_deg == 90.0
    qtbot.keyClick(page.sight, Qt.Key.Key_H)
    assert page.sight.hand is Hand.LEFT
    qtbot.keyClick(page.sight, Qt.Key.Key_1)
    assert page.sight.entry.from_deg is None


def test_a_hook_is_turned_by_dragging_from_its_tip(page, bout, qtbot):
    page.side.choose(tool=EntryTool.RIGID)
    middle = page.sight.rect().center()
    qtbot.mousePress(page.sight, LEFT, pos=middle)
    qtbot.mouseMove(page.sight, middle + QPoint(60, -60))
    assert page.sight.entry.from_deg == pytest.approx(315.0)
    qtbot.mouseMove(page.sight, middle + QPoint(-60, -30))  # where the right hand is not
    assert page.sight.entry.from_deg == pytest.approx(270.0)
    qtbot.mouseRelease(page.sight, LEFT, pos=middle)


def test_five_hits_lead_on_and_it_is_said(page, bout, qtbot, words_of, context):
    for number in range(5):
        put_behind(page)
        enter(page, qtbot)
        if number < 4:
            qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    assert "Four of five were hits. Next: nearly straight young larvae." in words_of(page.side)
    qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    assert any("nearly straight" in each for each in words_of(page.side))
    context.keeper.flush(5.0)
    standing = standing_of(context.store, context.learner.id)
    assert standing.course.step is ToolStep.NEARLY_STRAIGHT


def test_the_last_step_is_the_other_hand_only(page, bout, qtbot, words_of):
    bout.course = type(bout.course)(step=ToolStep.OTHER_HAND)
    put_behind(page)
    enter(page, qtbot)
    qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    assert page.sight.hand is Hand.LEFT
    qtbot.keyClick(page.sight, Qt.Key.Key_H)
    assert page.sight.hand is Hand.LEFT
    assert "Now with your other hand, the left one." in words_of(page.side)


def test_ten_cells_are_told_together(page, bout, qtbot, words_of, context):
    for _ in range(N_CELLS):
        put_behind(page)
        enter(page, qtbot)
        qtbot.keyClick(page.sight, Qt.Key.Key_Return)
    words = " ".join(words_of(page))
    assert "10 of 10 would have gone under the larva." in words
    assert page.bout is None
    assert len(kept(context)) == N_CELLS


def test_stopping_leaves_no_cell_waiting(page, bout, qtbot, context, press_soon):
    with qtbot.waitSignal(page.ended):
        press_soon("Stop here")
    (only,) = kept(context)
    assert only.ended_at_utc is not None
    assert only.answers == (None,)


def test_missing_pictures_are_told(page, qtbot, monkeypatch, words_of, press_soon):
    def fail(_limits):
        raise AssetMissingError("The tiles are gone.")

    monkeypatch.setattr(tool_page, "_cells_of", fail)
    page.begin(TOOL_GOES_IN)
    press_soon("Begin: I graft with my left hand")
    qtbot.waitUntil(lambda: "The tiles are gone." in words_of(page), timeout=WAIT_MS)


def test_every_landing_has_a_sign_and_a_sentence(page, bout, qtbot):
    put_behind(page)
    entry = page.sight.entry
    for landing in Landing:
        assert MARKS[landing].word
        assert told_words(entry, Judged(landing=landing, off_mm=0.3), bout.cell).endswith(".")

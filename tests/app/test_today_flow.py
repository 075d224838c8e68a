"""Today on Practise: begun by one button, led from part to part, ticked off at the end."""

import pytest
from PySide6.QtCore import Qt

from larvasight.app import practise_start
from larvasight.app.practise_page import PractisePage
from larvasight.practice import TAKE_OR_LEAVE
from larvasight.practice.drills import AGAINST_THE_CLOCK, SCREEN_TEST
from larvasight.practice.today import LOOK_FOR

WAIT_MS = 20_000


@pytest.fixture
def looked(monkeypatch):
    """Return how often "What to look for" was shown; it is not opened in tests."""
    shown = []
    monkeypatch.setattr(practise_start, "show_what_to_look_for", lambda *_: shown.append(1))
    return shown


@pytest.fixture
def page(qtbot, context, looked):
    made = PractisePage(context)
    qtbot.addWidget(made)
    made.resize(900, 640)
    context.set_learner(context.learner)
    made.show()
    qtbot.waitExposed(made)
    return made


def start_next(qtbot, page):
    qtbot.mouseClick(page.start.today.button, Qt.MouseButton.LeftButton)


def do_take_or_leave(qtbot, page):
    """Answer cell after cell until the next part of today is offered."""
    qtbot.waitUntil(lambda: page.session is not None, timeout=WAIT_MS)
    while page.side.next_button.text() != "Go on with today":
        qtbot.waitUntil(lambda: page.session is not None, timeout=WAIT_MS)
        session = page.session
        qtbot.keyClick(page.comb, Qt.Key.Key_L)
        qtbot.waitUntil(lambda: page.is_told, timeout=WAIT_MS)
        if page.side.next_button.text() != "Go on with today":
            qtbot.keyClick(page.comb, Qt.Key.Key_Return)
            qtbot.waitUntil(
                lambda session=session: page.session is not session or not page.is_told,
                timeout=WAIT_MS,
            )


def test_today_is_the_first_thing_and_has_the_keyboard(page):
    assert page.start.today.button.hasFocus()
    assert page.start.today.today.parts[0].key == LOOK_FOR


def test_what_was_looked_at_leads_on_to_the_next_part(page, qtbot, looked):
    start_next(qtbot, page)
    assert looked == [1]
    assert page.start.today.today.parts[0].is_done
    assert page.start.today.today.next_part.key != LOOK_FOR
    assert page.start.today.button.hasFocus()


def test_a_part_that_ends_leads_back_to_today_with_its_tick(page, qtbot):
    part = page.start.today.today.part_of(TAKE_OR_LEAVE.key)
    page.begin(TAKE_OR_LEAVE)
    do_take_or_leave(qtbot, page)
    qtbot.keyClick(page.comb, Qt.Key.Key_Return)
    assert page.start.isVisible()
    done = page.start.today.today.part_of(TAKE_OR_LEAVE.key)
    assert done.is_done
    assert done.n == part.n


def test_beside_the_plan_combs_follow_without_end(page, qtbot):
    page.begin(TAKE_OR_LEAVE)
    do_take_or_leave(qtbot, page)
    page.stop()
    page.begin(TAKE_OR_LEAVE)
    qtbot.waitUntil(lambda: page.session is not None, timeout=WAIT_MS)
    session = page.session
    for _ in range(session.round.n_to_ask):
        qtbot.keyClick(page.comb, Qt.Key.Key_L)
        qtbot.waitUntil(lambda: page.is_told, timeout=WAIT_MS)
        if session.round.n_answered < session.round.n_to_ask:
            qtbot.keyClick(page.comb, Qt.Key.Key_Return)
            qtbot.waitUntil(lambda: not page.is_told, timeout=WAIT_MS)
    assert page.side.next_button.text() == "Next comb"


def test_a_drill_with_a_page_of_its_own_is_shown_and_left(page, qtbot, words_of):
    page.begin(SCREEN_TEST)
    assert "The screen test" in words_of(page)
    assert not page.start.isVisible()
    page.stop()
    assert page.start.isVisible()


def test_the_card_of_the_clock_says_what_is_missing(page, words_of):
    said = words_of(page.start)
    assert AGAINST_THE_CLOCK.title in said
    assert any(words.startswith("First pick 20 larvae without the clock") for words in said)


def test_somebody_else_gets_another_day(page, context, clock, qtbot):
    start_next(qtbot, page)
    assert page.start.today.today.parts[0].is_done
    context.set_learner(context.store.add_learner("Runa", now=clock()))
    assert not page.start.today.today.parts[0].is_done

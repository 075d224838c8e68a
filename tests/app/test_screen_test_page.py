"""The screen test in the window: begun, broken off, gone on with, told only at its end."""

from datetime import timedelta

import pytest
from PySide6.QtCore import QCoreApplication, Qt

from larvasight.app import fresh_supply, screen_test_page
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.screen_test_page import ScreenTestPage
from larvasight.app.screen_test_words import NO_LICENCE
from larvasight.desk.fresh_combs import shipped_set_apart
from larvasight.desk.screen_test import Now
from larvasight.grading import Limits
from larvasight.practice.drills import SCREEN_TEST
from larvasight.practice.readiness import TryState
from larvasight.sheet import Content

WAIT_MS = 20_000
LIMITS = Limits()
SMALL_PX = (320, 240)


@pytest.fixture
def fresh(monkeypatch):
    if shipped_set_apart() is None:
        pytest.skip("the tiles are not here")
    monkeypatch.setattr(fresh_supply, "picture_size_px", lambda _aspect: SMALL_PX)
    monkeypatch.setattr(screen_test_page, "match_screen", lambda *_: False)


@pytest.fixture
def page(qtbot, context, fresh):
    made = ScreenTestPage(context)
    qtbot.addWidget(made)
    made.resize(1000, 700)
    made.show()
    qtbot.waitExposed(made)
    made.begin(SCREEN_TEST)
    yield made
    made.leave()
    wait_for_jobs()


def asked(qtbot, page):
    qtbot.waitUntil(lambda: page.run.session is not None, timeout=WAIT_MS)
    return page.run.session


def is_right(cell):
    return cell.content is Content.LARVA and cell.is_plain and cell.age_h <= LIMITS.old_h


def answer_comb(qtbot, page, takes):
    """Mark what is to be taken and end the comb; wait for what comes next."""
    session = asked(qtbot, page)
    for index, cell in enumerate(session.comb.asked):
        if takes(cell):
            page.run.comb.set_place(index)
            qtbot.keyClick(page.run.comb, Qt.Key.Key_Space)
    for _ in range(2):  # a comb without marks is asked about once more
        qtbot.keyClick(page.run.comb, Qt.Key.Key_Return)
    qtbot.waitUntil(
        lambda: (
            page.run.session is not session
            and (page.run.session is not None or page.told.isVisible())
        ),
        timeout=WAIT_MS,
    )


def pick_for_a_day(qtbot, page, takes=is_right):
    page.go()
    while not page.told.isVisible():
        answer_comb(qtbot, page, takes)


def answer_singles(qtbot, page, takes):
    page.go()
    session = asked(qtbot, page)
    while page.run.session is session:
        cell = session.round.current
        qtbot.keyClick(page.run.comb, Qt.Key.Key_T if takes(cell) else Qt.Key.Key_L)
        qtbot.waitUntil(
            lambda cell=cell: page.run.session is None or session.round.current is not cell,
            timeout=WAIT_MS,
        )
    qtbot.waitUntil(page.told.isVisible, timeout=WAIT_MS)


def words(page, words_of):
    return " ".join(words_of(page))


def test_it_says_first_what_it_asks_and_that_it_is_no_licence(page, words_of):
    told = words(page, words_of)
    assert "120 fresh picks" in told
    assert told.count("To come.") == 4
    assert NO_LICENCE in told
    assert "Not begun yet." in told
    assert page.told.go_button.hasFocus()


def test_an_unmatched_screen_is_told_what_size_is_used(page, words_of):
    assert "not matched with a bank card" in words(page, words_of)
    assert page.told.match_button.isVisible()


def test_nothing_is_told_beside_a_comb_or_after_it(page, qtbot, words_of):
    page.go()
    answer_comb(qtbot, page, lambda cell: cell.content is Content.LARVA and cell.age_h > 30.0)
    told = words(page, words_of)
    assert "too old" not in told.replace("Hardly one too old", "").lower() or page.told.isVisible()


def test_a_wrong_comb_ends_the_try_and_only_then_says_why(page, qtbot, words_of):
    page.go()
    for _ in range(3):
        if not page.told.isVisible():
            answer_comb(
                qtbot, page, lambda cell: cell.content is Content.LARVA and cell.age_h > 34.0
            )
    assert page.told.isVisible()
    told = words(page, words_of)
    assert "Not passed" in told
    assert "Wrong on" in told
    assert "19 times in 20" not in told  # too few picks for a share
    assert "Not finished." in told
    assert "Under way" not in told
    assert page.test.now is Now.WAIT
    assert not page.told.go_button.isVisible()


def test_a_comb_left_half_way_is_gone_on_with_with_its_marks(page, qtbot, context):
    page.go()
    session = asked(qtbot, page)
    page.run.comb.set_place(0)
    qtbot.keyClick(page.run.comb, Qt.Key.Key_Space)
    page.refresh()
    assert page.told.go_button.text() == "Go on with the open comb"
    page.go()
    again = asked(qtbot, page)
    assert again.round_id == session.round_id
    assert [cell.id for cell in again.comb.asked] == [cell.id for cell in session.comb.asked]
    assert again.round.n_marked == 1


def test_sixty_picks_are_all_for_a_day(page, qtbot, words_of):
    pick_for_a_day(qtbot, page)
    assert page.test.open_try.n_today == 60
    assert page.test.now is Now.WAIT
    assert "Go on tomorrow or later" in words(page, words_of)


def test_three_days_pass_the_test(page, qtbot, clock, words_of, context):
    """Sixty picks a day, the line, and a week later the check."""
    pick_for_a_day(qtbot, page)
    clock.at += timedelta(days=1)
    page.refresh()
    pick_for_a_day(qtbot, page)
    assert page.test.now is Now.MEASURE
    n_blocks = 0
    while page.test.now is Now.MEASURE:
        n_blocks += 1
        answer_singles(
            qtbot,
            page,
            lambda cell: cell.content is Content.LARVA and 3.0 <= cell.looks_age_h <= 26.0,
        )
    assert n_blocks <= 2
    assert page.test.now is Now.WAIT
    clock.at += timedelta(days=7)
    page.refresh()
    assert page.test.now is Now.CHECK
    pick_for_a_day(qtbot, page)
    assert page.test.latest.result.state is TryState.PASSED
    told = words(page, words_of)
    assert told.count("Met.") == 4
    assert "Passed the screen test on" in told
    shown = [
        cell.tile_id
        for kept in context.store.kept_rounds(context.learner.id, [SCREEN_TEST.key])
        for cell in kept.cells
    ]
    assert len(shown) == len(set(shown))


def test_the_end_of_a_learner_takes_nothing_along(page, qtbot, context):
    page.go()
    asked(qtbot, page)
    page.leave()
    assert page.run.session is None
    QCoreApplication.processEvents()
    assert context.keeper.flush(5.0)

"""Against the clock in the window: opened by skill, timed by one's own pace, told at the end."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from larvasight.app import clock_page
from larvasight.app.clock_page import ClockPage
from larvasight.app.jobs import wait_for_jobs
from larvasight.desk.clock import Clock
from larvasight.practice.drills import AGAINST_THE_CLOCK

WAIT_MS = 20_000
OPEN = Clock(pace_ms=20_000.0, n_times=40, n_right=30, n_picks=30)
HURRIED = Clock(pace_ms=200.0, n_times=40, n_right=30, n_picks=30)
CLOSED = Clock(pace_ms=None, n_times=3, n_right=20, n_picks=30)


@pytest.fixture
def page(qtbot, context):
    made = ClockPage(context)
    qtbot.addWidget(made)
    made.resize(1000, 700)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.leave()
    wait_for_jobs()


@pytest.fixture
def begin(page, monkeypatch, qtbot):
    """Return a function that begins with what is known of the learner."""

    def make(known):
        monkeypatch.setattr(clock_page, "clock_of", lambda *_: known)
        page.begin(AGAINST_THE_CLOCK)
        if known.is_open:
            press_soon(qtbot, page, "Begin")
            qtbot.waitUntil(lambda: page.run.session is not None, timeout=WAIT_MS)
        return page.run.session

    return make


def press_soon(qtbot, page, words):
    def there():
        return [
            each
            for each in page.findChildren(QPushButton)
            if each.text() == words and each.isVisible()
        ]

    qtbot.waitUntil(lambda: len(there()) == 1)
    qtbot.mouseClick(there()[0], Qt.MouseButton.LeftButton)


def test_before_skill_it_says_what_is_missing(page, begin, words_of):
    begin(CLOSED)
    told = " ".join(words_of(page))
    assert CLOSED.missing in told
    assert page.run.session is None


def test_every_cell_has_its_time_and_nothing_is_told_until_the_end(page, begin, qtbot, words_of):
    session = begin(OPEN)
    n = session.round.n_to_ask
    assert page.run.side.time.isVisible()
    for _ in range(n):
        assert "right" not in " ".join(words_of(page.run.side)).lower()
        cell = session.round.current
        qtbot.keyClick(page.run.comb, Qt.Key.Key_L)
        qtbot.waitUntil(
            lambda cell=cell: page.work.isVisible() or session.round.current is not cell,
            timeout=WAIT_MS,
        )
    qtbot.waitUntil(page.work.isVisible, timeout=WAIT_MS)
    assert f"of {n} right." in " ".join(words_of(page.side))
    assert "came too late" not in " ".join(words_of(page.side))


def answer_rest(qtbot, page, session):
    while page.run.session is session:
        cell = session.round.current
        qtbot.keyClick(page.run.comb, Qt.Key.Key_L)
        qtbot.waitUntil(
            lambda cell=cell: page.run.session is None or session.round.current is not cell,
            timeout=WAIT_MS,
        )
    qtbot.waitUntil(page.work.isVisible, timeout=WAIT_MS)


def test_a_cell_whose_time_runs_out_is_stored_and_told_as_too_late(
    page, begin, qtbot, words_of, rows, context
):
    session = begin(HURRIED)
    first = session.round.current
    qtbot.waitUntil(lambda: session.round.current is not first, timeout=WAIT_MS)
    answer_rest(qtbot, page, session)
    assert "1 came too late." in " ".join(words_of(page.side))
    assert context.keeper.flush(5.0)
    assert rows("answer")[first.id] == ("cannot-tell",)


def test_the_bar_shrinks_while_the_time_runs(page, begin, qtbot):
    begin(OPEN)
    first = page.run.side.time.value()
    qtbot.waitUntil(lambda: page.run.side.time.value() < first, timeout=WAIT_MS)


def test_no_time_runs_while_the_page_is_not_in_view(page, begin, qtbot):
    session = begin(HURRIED)
    first = session.round.current
    page.hide()
    qtbot.wait(round(2.0 * HURRIED.pace_ms))
    assert session.round.current is first
    page.show()


def test_stopping_leaves_nothing_open(page, begin, qtbot, context):
    begin(OPEN)
    qtbot.keyClick(page.run.comb, Qt.Key.Key_T)
    with qtbot.waitSignal(page.ended):
        press_soon(qtbot, page, "Stop here")
    assert page.run.session is None
    assert context.keeper.flush(5.0)
    assert context.store.unfinished_round(context.learner.id) is None


def test_another_round_follows_by_the_time_known_then(page, begin, qtbot):
    first = begin(OPEN)
    answer_rest(qtbot, page, first)
    press_soon(qtbot, page, "Once more")
    qtbot.waitUntil(lambda: page.run.session is not None, timeout=WAIT_MS)
    assert page.run.session.round_id != first.round_id

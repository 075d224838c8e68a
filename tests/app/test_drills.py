"""The drills in the window: laid by the learner's own line, told when their declaration says so."""

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, Qt

from larvasight.app import comb_supply
from larvasight.app.comb_supply import CombSupply
from larvasight.app.edges_told import EdgesTold, line_words, sure_words
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.practise_page import PractisePage
from larvasight.errors import StoreBusyError
from larvasight.grading import Limits
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE
from larvasight.practice.drills import FIND_YOUR_EDGES
from larvasight.practice.planning import seen_age_h
from larvasight.stats import EdgePosterior

LIMITS = Limits()
WAIT_MS = 20_000


def edges(young_h, old_h, n_each=3):
    ages_h = np.repeat(np.arange(-12.0, 72.0, 2.0), n_each)
    found = EdgePosterior()
    found.update_many(ages_h, (ages_h >= young_h) & (ages_h <= old_h))
    return found


@pytest.fixture
def page(qtbot, context):
    made = PractisePage(context)
    qtbot.addWidget(made)
    made.resize(900, 640)
    context.set_learner(context.learner)
    made.show()
    qtbot.waitExposed(made)
    return made


def begin(qtbot, page, drill):
    qtbot.mouseClick(page.start.buttons[drill.key], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: page.session is not None, timeout=WAIT_MS)
    return page.session


def measure(qtbot, page, session, takes):
    """Answer until the line is told; return how many cells were answered."""
    n = 0
    while page.session is session:
        cell = session.round.current
        n += 1
        qtbot.keyClick(page.comb, Qt.Key.Key_T if takes(cell) else Qt.Key.Key_L)
        qtbot.waitUntil(lambda n=n: page.session is None or session.round.n_answered == n)
        qtbot.waitUntil(lambda cell=cell: session.round.current is not cell)
        assert not page.is_told
    return n


def test_measuring_tells_nothing_until_the_line_is_shown(page, qtbot, words_of, rows, context):
    session = begin(qtbot, page, FIND_YOUR_EDGES)
    assert "1 of " in " ".join(words_of(page.side))
    assert "Nothing is told until the end" in " ".join(words_of(page.side))
    n = measure(qtbot, page, session, lambda cell: 3.0 <= seen_age_h(cell) <= 33.0)
    assert 0 < n <= 40
    assert page.edges_told.isVisible()
    told = line_words(session.round.edges, LIMITS)
    assert told[0] in words_of(page.edges_told)
    assert told[1] in words_of(page.edges_told)
    assert context.keeper.flush(5.0)
    kept = rows("answer, is_final, drill, feedback")
    assert sum(row[0] is not None for row in kept.values()) == n
    assert {row[2:] for row in kept.values()} == {(FIND_YOUR_EDGES.key, "after-comb")}
    assert context.store.unfinished_round(context.learner.id) is None


def test_from_the_line_one_goes_on_practising_or_back(page, qtbot, press):
    session = begin(qtbot, page, FIND_YOUR_EDGES)
    measure(qtbot, page, session, lambda cell: 3.0 <= seen_age_h(cell) <= 33.0)
    page.arrive()
    assert page.edges_told.isVisible()
    press(page, "Practise near your line")
    qtbot.waitUntil(lambda: page.session is not None)
    assert page.session.round.drill == TAKE_OR_LEAVE
    page.stop()
    session = begin(qtbot, page, FIND_YOUR_EDGES)
    measure(qtbot, page, session, lambda cell: 3.0 <= seen_age_h(cell) <= 33.0)
    press(page, "Done")
    assert page.start.isVisible()


def test_measuring_stopped_halfway_goes_on_with_the_answers_given(page, qtbot, press, words_of):
    session = begin(qtbot, page, FIND_YOUR_EDGES)
    for n in range(1, 4):
        qtbot.keyClick(page.comb, Qt.Key.Key_T)
        qtbot.waitUntil(lambda n=n: f"{n + 1} of " in " ".join(words_of(page.side)))
    press(page, "Stop here")
    press(page, "Go on with it")
    qtbot.waitUntil(lambda: page.session is not None)
    assert page.session is not session
    assert page.session.round.n_answered == 3
    assert page.session.round.edges.n_answers == 3


def test_the_drill_for_today_stands_first_with_its_reason_and_the_keyboard(page, words_of):
    said = words_of(page.start)
    titles = [drill.title for drill in (TAKE_OR_LEAVE, PICK_FROM_PATCH, FIND_YOUR_EDGES)]
    assert [words for words in said if words in titles] != []
    heights = {
        drill.key: page.start.buttons[drill.key].mapTo(page.start, page.start.rect().topLeft()).y()
        for drill in (TAKE_OR_LEAVE, PICK_FROM_PATCH, FIND_YOUR_EDGES)
    }
    assert min(heights, key=heights.get) == TAKE_OR_LEAVE.key
    assert not any(words.startswith("Best for today.") for words in said)
    assert page.start.today.is_open
    for drill in (TAKE_OR_LEAVE, PICK_FROM_PATCH, FIND_YOUR_EDGES):
        assert drill.trains in said
    # One thing is to be done next, and it is today's.
    assert page.start.today.button.property("role") == "main"
    assert page.start.buttons[TAKE_OR_LEAVE.key].property("role") == ""


# Combs drawn ahead.


@pytest.fixture
def asked(monkeypatch, small_combs, qapp):
    """Return the ages that each comb was laid with, in order."""
    laid = []

    def prepare(drill, seed, *, ages_h, **how):
        laid.append((drill, ages_h))
        return small_combs.prepare(drill, seed, **how)

    monkeypatch.setattr(comb_supply, "prepare_comb", prepare)
    return laid


@pytest.fixture
def settle(qtbot):
    """Return a function that waits until so many combs are ready for a drill, and no more come."""

    def _settle(supply, drill, n_ready):
        qtbot.waitUntil(lambda: supply.n_ready(drill) == n_ready)
        assert wait_for_jobs()
        QCoreApplication.processEvents()
        assert supply.n_ready(drill) == n_ready

    return _settle


def test_combs_are_laid_by_the_edges_aimed_at(asked, settle):
    supply = CombSupply(np.random.default_rng(1))
    supply.aim_at(edges(2.0, 45.0))
    supply.want(TAKE_OR_LEAVE, LIMITS)
    settle(supply, TAKE_OR_LEAVE, 1)
    ((drill, ages_h),) = asked
    assert drill == TAKE_OR_LEAVE
    assert max(ages_h) > 40.0
    supply.want(PICK_FROM_PATCH, LIMITS)
    settle(supply, PICK_FROM_PATCH, 2)
    assert asked[1:] == [(PICK_FROM_PATCH, ())] * 2


def test_another_learner_gets_no_comb_laid_for_the_one_before(asked, settle):
    supply = CombSupply(np.random.default_rng(1))
    supply.want(TAKE_OR_LEAVE, LIMITS)
    settle(supply, TAKE_OR_LEAVE, 1)
    supply.aim_at(None, is_new_learner=True)
    assert supply.n_ready(TAKE_OR_LEAVE) == 0
    supply.want(TAKE_OR_LEAVE, LIMITS)
    supply.aim_at(None, is_new_learner=True)  # while one is being drawn
    settle(supply, TAKE_OR_LEAVE, 1)
    assert len(asked) == 3


# What is said of a line.


@pytest.mark.parametrize(
    ("young_h", "old_h", "said"),
    [
        (2.0, 45.0, "You take larvae older than 30 h: that is too old."),
        (2.0, 22.0, "You stop before 30 h: none of them is too old."),
        (2.0, 30.0, "You stop about where they get too old, 30 h."),
        (2.0, 90.0, "You take larvae older than 30 h"),
        (-90.0, 28.0, "You take eggs for larvae"),
        (14.0, 22.0, "You leave good young ones: from 6 h they can be taken."),
    ],
)
def test_a_line_is_said_in_plain_words(young_h, old_h, said):
    title, words = line_words(edges(young_h, old_h), LIMITS)
    assert title.startswith("You take larvae from ")
    assert said in words


def test_without_a_line_none_is_named_and_how_close_it_is_known_is_said():
    title, words = line_words(EdgePosterior(), LIMITS)
    assert title == "No clear line yet."
    assert "what to look for" in words
    assert "on another day" in sure_words(EdgePosterior())
    sharp = edges(6.0, 28.0, 8)
    assert sure_words(sharp).startswith(f"After {sharp.n_answers} cells:")
    assert "on another day" not in sure_words(sharp)


def test_the_line_is_drawn_where_it_lies(qtbot, dressing):
    told = EdgesTold(dressing, train=lambda: None, done=lambda: None, go_on=lambda: None)
    qtbot.addWidget(told)
    told.resize(900, 600)
    told.tell(edges(6.0, 28.0, 8), LIMITS)
    told.show()
    qtbot.waitExposed(told)
    strip = told._strip
    assert "You take larvae from" in strip.accessibleName()
    drawn = strip.grab().toImage()
    assert strip.grab().toImage() == drawn
    told.tell(edges(6.0, 44.0, 8), LIMITS)
    assert strip.grab().toImage() != drawn
    told.tell(EdgePosterior(), LIMITS)
    assert not strip.isVisible()


def test_records_that_cannot_be_read_hide_no_drill(page, context, monkeypatch):
    def fail(*_args):
        raise StoreBusyError("The records are busy.")

    monkeypatch.setattr(context.store, "answers", fail)
    page.stop()
    assert all(start.isVisible() for start in page.start.buttons.values())

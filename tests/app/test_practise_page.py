"""Practise: what is clicked is what is stored, and it is told only once it is."""

import sqlite3
import threading
from contextlib import closing

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractButton, QApplication

from larvasight.app import comb_supply, practise_page
from larvasight.app.cell_item import Face, Rim
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.practise_page import PractisePage
from larvasight.app.practise_words import (
    doubt_words,
    result_title,
    result_words,
    said_words,
    span_words,
)
from larvasight.app.told import cells_words
from larvasight.app.trouble import TroubleBar
from larvasight.app.why_panel import tied
from larvasight.errors import LarvasightError, StoreBusyError, StoreFullError
from larvasight.grading import Limits, age_words, explain_truth
from larvasight.paper.marks import OUTCOME_MARKS
from larvasight.practice import PICK_FROM_PATCH, PICK_FROM_SIDE, TAKE_OR_LEAVE, Answer
from larvasight.practice.scoring import Outcome
from larvasight.sheet import Content

BARE, PENCIL, INK = Face(), Face(rim=Rim.PENCIL), Face(rim=Rim.INK)
NO_KEYS = Qt.KeyboardModifier.NoModifier


@pytest.fixture
def make_page(qtbot):
    def make(context):
        page = PractisePage(context)
        qtbot.addWidget(page)
        page.resize(900, 640)
        context.set_learner(context.learner)
        page.show()
        qtbot.waitExposed(page)
        return page

    return make


@pytest.fixture
def page(make_page, context):
    return make_page(context)


@pytest.fixture
def begin(qtbot, clock):
    """Return a function that starts a drill and waits for its comb."""

    def _begin(page, drill=PICK_FROM_PATCH):
        clock.go_on_ms(10)
        qtbot.mouseClick(page.start.buttons[drill.key], Qt.MouseButton.LeftButton)
        qtbot.waitUntil(lambda: page.session is not None)
        return page.session

    return _begin


@pytest.fixture
def click(qtbot):
    def _click(page, *indices):
        for index in indices:
            at = page.comb.centre_on_screen(index)
            qtbot.mouseClick(page.comb.viewport(), Qt.MouseButton.LeftButton, NO_KEYS, at)

    return _click


@pytest.fixture
def tell(qtbot):
    """Return a function that presses Enter and waits until the comb is told."""

    def _tell(page):
        if page.session.round.n_marked == 0:
            qtbot.keyClick(page.comb, Qt.Key.Key_Return)  # it asks whether that is meant
        qtbot.keyClick(page.comb, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda: page.is_told)

    return _tell


@pytest.fixture
def go_on(press, qtbot):
    """Return a function that goes on with the comb that is offered."""

    def _go_on(page):
        qtbot.waitUntil(lambda: "Go on with it" in shown_buttons(page))
        press(page, "Go on with it")
        qtbot.waitUntil(lambda: page.session is not None)

    return _go_on


class Gate:
    """Holds the calls of a method of the store back until they are let through."""

    def __init__(self, monkeypatch, store, name):
        self._turns = threading.Semaphore(0)
        self.n_come = 0
        through = getattr(store, name)

        def held(*args, **kwargs):
            self.n_come += 1
            assert self._turns.acquire(timeout=20.0)
            return through(*args, **kwargs)

        monkeypatch.setattr(store, name, held)

    def let_through(self, n_calls=1000):
        self._turns.release(n_calls)


@pytest.fixture
def hold(monkeypatch):
    gates = []

    def _hold(store, name):
        gates.append(Gate(monkeypatch, store, name))
        return gates[-1]

    yield _hold
    for gate in gates:
        gate.let_through()


def ids(session, *indices):
    return {session.comb.asked[index].id for index in indices}


def taken(rows):
    return {cell for cell, row in rows.items() if row[0] == "take"}


def rounds(data, columns="ended_utc_ms"):
    with closing(sqlite3.connect(data / "records.db")) as records:
        return records.execute(
            f"SELECT {columns} FROM comb_round ORDER BY shown_utc_ms, rowid"
        ).fetchall()


def outcome_by_hand(cell, is_taken, limits):
    """Return what an answer is by the rules in words: a slow second opinion."""
    if not cell.is_plain:
        return Outcome.HIDDEN
    if cell.content is Content.EGG:
        return Outcome.EGG if is_taken else Outcome.LEFT
    if cell.content is not Content.LARVA:
        return Outcome.NO_LARVA if is_taken else Outcome.LEFT
    if cell.age_h < limits.young_h:
        return Outcome.VERY_YOUNG if is_taken else Outcome.LEFT_OPEN
    if cell.age_h <= limits.old_h:
        return Outcome.RIGHT if is_taken else Outcome.MISSED
    if cell.age_h <= limits.old_h + 3.0:
        return Outcome.JUST_PAST if is_taken else Outcome.LEFT_OPEN
    return Outcome.TOO_OLD if is_taken else Outcome.LEFT


def face_by_hand(cell, is_taken, limits):
    outcome = outcome_by_hand(cell, is_taken, limits)
    is_aged = cell.content is Content.LARVA and cell.age_h is not None
    words = age_words(cell.age_h, limits) if is_aged else ""
    if outcome is Outcome.MISSED:
        return Face(rim=Rim.OPEN_VERDICT, mark=OUTCOME_MARKS[outcome], words=words)
    if outcome in OUTCOME_MARKS:
        return Face(rim=Rim.VERDICT, mark=OUTCOME_MARKS[outcome], words=words)
    return Face(rim=Rim.FAINT, words=words)


def test_the_first_screen_asks_the_learner_by_name(page, words_of):
    words = words_of(page)
    assert "Mira, which would you graft?" in words
    assert span_words(Limits()) in words
    assert "6\N{EN DASH}30 hours" in span_words(Limits())
    assert page.session is None


def test_every_cell_is_in_the_records_once_the_comb_is_shown(page, begin, context, rows):
    session = begin(page)
    assert context.keeper.flush(5.0)
    kept = rows("row, col, answer, is_final")
    asked = {cell.id: (cell.row, cell.col, None, 0) for cell in session.comb.asked}
    assert kept == asked
    assert page.comb.n_cells == len(asked)


def test_clicks_are_stored_as_they_were_made(page, begin, click, tell, rows, clock, qtbot):
    session = begin(page)
    for ms, index in ((1200, 0), (300, 4), (2050, 9)):
        clock.go_on_ms(ms)
        click(page, index)
    qtbot.waitUntil(lambda: page.comb.face_of(9) == INK)
    kept = rows()
    assert [kept[cell.id] for cell in session.comb.asked if cell.id in taken(kept)] == [
        ("take", 0, 1200),
        ("take", 0, 300),
        ("take", 0, 2050),
    ]
    assert taken(kept) == ids(session, 0, 4, 9)
    tell(page)
    kept = rows()
    for index, cell in enumerate(session.comb.asked):
        answer, is_final, response_ms = kept[cell.id]
        assert is_final == 1
        assert answer == ("take" if index in (0, 4, 9) else "leave")
        assert (response_ms is None) == (index not in (0, 4, 9))


def test_a_mark_is_pencilled_until_its_row_is_stored(
    page, begin, click, context, hold, rows, qtbot, words_of
):
    session = begin(page)
    assert context.keeper.flush(5.0)
    gate = hold(context.store, "keep")
    click(page, 2, 7)
    qtbot.waitUntil(lambda: gate.n_come > 0)
    assert page.comb.face_of(2) == page.comb.face_of(7) == PENCIL
    assert taken(rows()) == set()
    # The count is of what the hand did, not of what the disk has done.
    assert "2" in words_of(page.side)
    gate.let_through()
    qtbot.waitUntil(lambda: page.comb.face_of(2) == page.comb.face_of(7) == INK)
    assert taken(rows()) == ids(session, 2, 7)


def test_a_mark_made_anew_is_pencilled_until_that_one_is_stored(
    page, begin, click, context, hold, rows, qtbot
):
    session = begin(page)
    assert context.keeper.flush(5.0)
    gate = hold(context.store, "keep")
    click(page, 2, 2, 2)
    for n_stored, n_taken in ((1, 1), (2, 0)):
        gate.let_through(1)
        qtbot.waitUntil(lambda n=n_stored: context.keeper.n_waiting == 3 - n)
        QApplication.processEvents()
        assert len(taken(rows())) == n_taken
        assert page.comb.face_of(2) == PENCIL
    gate.let_through()
    qtbot.waitUntil(lambda: page.comb.face_of(2) == INK)
    assert taken(rows()) == ids(session, 2)


@pytest.mark.parametrize("way", ["click", "key", "button"])
def test_a_mark_can_be_taken_back(page, begin, click, context, rows, press, qtbot, way):
    session = begin(page)
    click(page, 3, 5)
    if way == "click":
        click(page, 5)
    elif way == "key":
        qtbot.keyClick(page.comb, Qt.Key.Key_Z)
    else:
        press(page, "Take back")
    assert page.comb.face_of(5) == BARE
    assert context.keeper.flush(5.0)
    assert taken(rows()) == ids(session, 3)
    qtbot.waitUntil(lambda: page.comb.face_of(3) == INK)
    assert page.comb.face_of(5) == BARE


def test_taking_back_ends_when_nothing_is_marked(page, begin, click, context, rows, qtbot):
    begin(page)
    click(page, 3)
    for _ in range(3):
        qtbot.keyClick(page.comb, Qt.Key.Key_Z)
    assert not page.side.back_button.isEnabled()
    assert context.keeper.flush(5.0)
    assert taken(rows()) == set()


def test_marks_can_be_made_without_a_mouse(page, begin, context, rows, qtbot):
    session = begin(page)
    assert page.comb.hasFocus() or QApplication.focusWidget() is None
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Space, Qt.Key.Key_Down, Qt.Key.Key_Space):
        qtbot.keyClick(page.comb, key)
    assert context.keeper.flush(5.0)
    assert len(taken(rows())) == 2
    assert page.comb.place in [
        k for k, cell in enumerate(session.comb.asked) if cell.id in taken(rows())
    ]


@pytest.mark.parametrize("seed", [0, 1])
@pytest.mark.parametrize("is_taken", [True, False])
def test_every_outcome_has_its_face(page, begin, click, tell, small_combs, context, seed, is_taken):
    small_combs.seeds = (seed,)
    context.supply.want(PICK_FROM_PATCH, Limits(old_h=31.0))  # draws anew
    context.supply.want(PICK_FROM_PATCH, context.limits)
    session = begin(page)
    if is_taken:
        click(page, *range(page.comb.n_cells))
    tell(page)
    expected = [face_by_hand(cell, is_taken, session.limits) for cell in session.comb.asked]
    assert [page.comb.face_of(k) for k in range(page.comb.n_cells)] == expected
    marks = {face.mark for face in expected if face.mark is not None}
    assert len(marks) >= (4 if is_taken else 1)


def test_the_result_is_told_in_words(page, begin, click, tell, words_of):
    session = begin(page)
    limits = session.limits
    picked = [0, 3, 6, 8, 12, 15]
    click(page, *picked)
    tell(page)
    found = [
        outcome_by_hand(cell, index in picked, limits)
        for index, cell in enumerate(session.comb.asked)
    ]
    rights = found.count(Outcome.RIGHT) + found.count(Outcome.VERY_YOUNG)
    wrongs = sum(found.count(o) for o in (Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA))
    score = session.score()
    assert (score.n_right, score.n_picks) == (rights, rights + wrongs)
    words = words_of(page.side)
    taken = [outcome for index, outcome in enumerate(found) if index in picked]
    n_past, n_hidden = taken.count(Outcome.JUST_PAST), taken.count(Outcome.HIDDEN)
    assert rights + wrongs + n_past + n_hidden == len(picked)
    assert result_title(score, n_past + n_hidden) in words
    assert result_words(score, n_past, n_hidden) in words
    assert words[0].startswith(f"{rights} of {rights + wrongs} ")
    n_good, n_missed = found.count(Outcome.RIGHT) + found.count(Outcome.MISSED), score.n_missed
    assert n_missed == found.count(Outcome.MISSED)
    if 0 < n_missed < n_good:
        assert f"You left {n_missed} of {n_good} right ones." in " ".join(words)


def test_the_reason_of_each_cell_is_shown_when_it_is_pressed(page, begin, click, tell):
    session = begin(page)
    picked = [1, 5]
    click(page, *picked)
    tell(page)
    for index in range(0, page.comb.n_cells, 3):
        click(page, index)
        truth = explain_truth(session.comb.cell_of(index), session.limits)
        assert page.side.why.sentence == tied(truth.sentence)
        assert page.comb.place == index
    # Pressing a told cell changes no answer.
    assert session.round.is_ended


def test_the_costliest_mistake_is_explained_first(page, begin, click, tell):
    session = begin(page)
    limits = session.limits
    click(page, *range(page.comb.n_cells))
    tell(page)
    found = [outcome_by_hand(cell, True, limits) for cell in session.comb.asked]
    costliest = Outcome.TOO_OLD if Outcome.TOO_OLD in found else Outcome.EGG
    first = found.index(costliest)
    truth = explain_truth(session.comb.cell_of(first), limits)
    assert page.side.why.sentence == tied(truth.sentence)


def test_the_arrows_show_reasons_once_told(page, begin, tell, qtbot):
    session = begin(page)
    tell(page)
    qtbot.keyClick(page.comb, Qt.Key.Key_Down)
    cell = session.comb.cell_of(page.comb.place)
    assert page.side.why.sentence == tied(explain_truth(cell, session.limits).sentence)


def test_enter_goes_on_to_a_fresh_comb(page, begin, click, tell, qtbot, data):
    first = begin(page)
    click(page, 0)
    tell(page)
    qtbot.keyClick(page.comb, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.session is not None and page.session is not first)
    assert not page.is_told
    assert {page.comb.face_of(k) for k in range(page.comb.n_cells)} == {BARE}
    assert not ids(page.session, *range(page.comb.n_cells)) & {c.id for c in first.comb.asked}
    qtbot.waitUntil(lambda: len(rounds(data)) == 2)
    (first_end,), (second_end,) = rounds(data)
    assert first_end is not None
    assert second_end is None


def test_a_key_held_down_does_not_run_through_combs(page, begin, tell, context, qtbot, data):
    session = begin(page)
    tell(page)

    def hold_down(key):
        repeated = QKeyEvent(QEvent.Type.KeyPress, key, NO_KEYS, "\r", True)
        QApplication.sendEvent(page.comb, repeated)

    for _ in range(5):
        hold_down(Qt.Key.Key_Return)
    assert page.session is session
    assert context.keeper.flush(5.0)
    assert len(rounds(data)) == 1


def test_nothing_is_told_before_all_answers_are_stored(
    page, begin, click, context, hold, rows, qtbot, words_of, press
):
    session = begin(page)
    click(page, 4)
    assert context.keeper.flush(5.0)
    gate = hold(context.store, "end_round")
    press(page, "Done: show me")
    qtbot.waitUntil(lambda: gate.n_come > 0)
    assert not page.is_told
    assert "Storing your answers ..." in words_of(page.side)
    assert {page.comb.face_of(k).mark for k in range(page.comb.n_cells)} == {None}
    click(page, 8)
    qtbot.keyClick(page.comb, Qt.Key.Key_Z)
    qtbot.keyClick(page.comb, Qt.Key.Key_Return)
    gate.let_through()
    qtbot.waitUntil(lambda: page.is_told)
    assert "Storing your answers ..." not in words_of(page.side)
    kept = rows()
    assert taken(kept) == ids(session, 4)
    assert all(row[1] == 1 for row in kept.values())
    assert gate.n_come == 1


def test_nothing_marked_is_asked_about_once(page, begin, click, press, context, qtbot, words_of):
    session = begin(page)
    asked = "Nothing is marked. Is there none to graft on this comb?"
    qtbot.keyClick(page.comb, Qt.Key.Key_Return)
    assert asked in words_of(page.side)
    assert not session.round.is_ended
    click(page, 3)
    assert asked not in words_of(page.side)
    assert "Done: show me" in shown_buttons(page)
    click(page, 3)
    qtbot.keyClick(page.comb, Qt.Key.Key_Return)
    assert asked in words_of(page.side)
    press(page, "Yes: show me")
    qtbot.waitUntil(lambda: page.is_told)
    assert result_title(session.score(), 0) in words_of(page.side)


def test_a_whole_side_is_begun_from_its_own_button(page, qtbot, words_of):
    qtbot.mouseClick(page.start.side_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: page.session is not None)
    assert page.session.comb.drill == PICK_FROM_SIDE
    assert page.comb.is_scrolled
    assert any("go over it" in words for words in words_of(page.side))


@pytest.mark.parametrize(
    ("n_marked", "n_unseen", "expected"),
    [
        (3, 0, ""),
        (0, 0, "Nothing is marked. Is there none to graft on this comb?"),
        (3, 1, "1 cell was never in view. Are you done with this comb?"),
        (0, 40, "Nothing is marked. 40 cells were never in view. Are you done with this comb?"),
    ],
)
def test_what_may_be_a_slip_is_asked(n_marked, n_unseen, expected):
    assert doubt_words(n_marked, n_unseen) == expected


def test_stop_goes_back_and_the_open_comb_is_offered(page, begin, click, press, go_on, words_of):
    session = begin(page)
    click(page, 1, 2)
    press(page, "Stop here")
    assert page.session is None
    assert "A comb is still open: Pick from a patch, 2 marked." in words_of(page)
    go_on(page)
    assert page.session is not session
    assert page.session.round_id == session.round_id
    assert [k for k in range(page.comb.n_cells) if page.comb.face_of(k) == INK] == [1, 2]


def test_a_comb_not_touched_is_not_offered(page, begin, press, context, data):
    begin(page)
    press(page, "Stop here")
    assert "Go on with it" not in shown_buttons(page)
    assert context.keeper.flush(5.0)
    ((ended,),) = rounds(data)
    assert ended is not None


def test_another_comb_begun_puts_the_open_one_away(page, begin, click, press, context, data):
    begin(page)
    click(page, 1)
    press(page, "Stop here")
    begin(page)
    assert context.keeper.flush(5.0)
    (first_end,), (second_end,) = rounds(data)
    assert first_end is not None
    assert second_end is None
    press(page, "Stop here")
    assert "Go on with it" not in shown_buttons(page)


def test_a_comb_with_marks_in_line_is_offered_only_with_all_of_them(
    page, begin, click, tell, press, context, hold, rows, qtbot, go_on
):
    session = begin(page)
    click(page, 1)
    assert context.keeper.flush(5.0)
    gate = hold(context.store, "keep")
    click(page, 2)
    qtbot.waitUntil(lambda: gate.n_come > 0)
    press(page, "Stop here")
    assert "Go on with it" not in shown_buttons(page)
    gate.let_through()
    assert context.keeper.flush(5.0)
    page.stop()
    go_on(page)
    assert [k for k in range(page.comb.n_cells) if page.comb.face_of(k) == INK] == [1, 2]
    tell(page)
    assert taken(rows()) == ids(session, 1, 2)


def test_a_comb_that_comes_out_differently_is_given_up(
    page, begin, click, press, context, monkeypatch, qtbot, data
):
    begin(page)
    click(page, 1)
    press(page, "Stop here")
    monkeypatch.setattr(practise_page, "draw_again", lambda _unfinished, _store: None)
    press(page, "Go on with it")
    qtbot.waitUntil(lambda: page.start.isVisible())
    assert page.session is None
    assert "Go on with it" not in shown_buttons(page)
    assert context.keeper.flush(5.0)
    ((ended,),) = rounds(data)
    assert ended is not None


def test_a_comb_told_to_the_end_is_not_offered_again(page, begin, tell, press, qtbot):
    begin(page)
    tell(page)
    press(page, "Stop here")
    wait_for_jobs()
    QApplication.processEvents()
    assert "Go on with it" not in shown_buttons(page)


def test_after_a_restart_the_open_comb_goes_on_with_its_marks(
    open_context, make_page, begin, click, tell, go_on, qtbot, rows, data
):
    context = open_context()
    page = make_page(context)
    session = begin(page)
    click(page, 0, 6, 11, 6)
    assert context.keeper.flush(5.0)
    page.close()
    wait_for_jobs()
    context.close()

    page = make_page(open_context())
    go_on(page)
    assert page.session.round_id == session.round_id
    assert [cell.id for cell in page.session.comb.asked] == [c.id for c in session.comb.asked]
    assert [k for k in range(page.comb.n_cells) if page.comb.face_of(k) == INK] == [0, 11]
    # What was marked last is taken back first, also after the restart: both are still marks.
    click(page, 3)
    qtbot.keyClick(page.comb, Qt.Key.Key_Z)
    tell(page)
    assert taken(rows()) == ids(session, 0, 11)
    assert len(rounds(data)) == 1


def test_an_open_comb_is_told_by_the_ages_wanted_when_it_was_shown(
    page, begin, click, tell, context, go_on
):
    session = begin(page)
    click(page, 0)
    context.store.set_limits(Limits(young_h=0.0, best_young_h=0.0, best_old_h=1.0, old_h=2.0))
    context.set_learner(context.learner)
    assert page.session is None
    go_on(page)
    assert page.session.limits == session.limits
    click(page, *range(1, page.comb.n_cells))
    tell(page)
    expected = [face_by_hand(cell, True, session.limits) for cell in session.comb.asked]
    assert [page.comb.face_of(k) for k in range(page.comb.n_cells)] == expected


def test_somebody_else_gets_the_first_screen(page, begin, click, context, store, clock, words_of):
    begin(page)
    click(page, 1)
    context.set_learner(store.add_learner("Jonne", now=clock()))
    assert page.session is None
    assert "Jonne, which would you graft?" in words_of(page)
    wait_for_jobs()
    QApplication.processEvents()
    assert "Go on with it" not in shown_buttons(page)


def test_what_is_stored_late_never_shows_on_the_next_comb(
    page, begin, click, context, hold, press, qtbot
):
    begin(page)
    assert context.keeper.flush(5.0)
    gate = hold(context.store, "keep")
    click(page, 4)
    press(page, "Stop here")
    begin(page)
    gate.let_through()
    assert context.keeper.flush(5.0)
    QApplication.processEvents()
    assert {page.comb.face_of(k) for k in range(page.comb.n_cells)} == {BARE}


def test_a_comb_that_cannot_be_drawn_is_one_sentence(
    make_page, context, press, monkeypatch, qtbot, words_of
):
    works = comb_supply.prepare_comb

    def fails(*_args, **_kwargs):
        msg = "A picture of the floor is missing."
        raise LarvasightError(msg)

    monkeypatch.setattr(comb_supply, "prepare_comb", fails)
    page = make_page(context)
    qtbot.mouseClick(page.start.buttons[PICK_FROM_PATCH.key], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "A picture of the floor is missing." in words_of(page))
    monkeypatch.setattr(comb_supply, "prepare_comb", works)
    press(page, "Try again")
    qtbot.waitUntil(lambda: page.session is not None)


def shown_buttons(page):
    return [made.text() for made in page.findChildren(QAbstractButton) if made.isVisible()]


# One cell at a time.


def test_one_cell_is_answered_with_t_and_l(page, begin, clock, qtbot, rows, words_of):
    session = begin(page, TAKE_OR_LEAVE)
    n = len(session.comb.asked)
    given = {}
    for at in range(n):
        index = session.current_index
        assert f"{at + 1} of {n}" in words_of(page.side)
        assert page.comb.place == index
        away = page.comb.centre_on_screen(index) - page.comb.viewport().rect().center()
        assert QPoint(away).manhattanLength() <= 4
        clock.go_on_ms(700 + 10 * at)
        key = Qt.Key.Key_T if at % 3 else Qt.Key.Key_L
        qtbot.keyClick(page.comb, key)
        qtbot.waitUntil(lambda: page.is_told)
        given[session.comb.asked[index].id] = ("take" if at % 3 else "leave", 1, 700 + 10 * at)
        kept = rows()
        assert {cell: row for cell, row in kept.items() if row[0] is not None} == given
        answer = Answer.TAKE if at % 3 else Answer.LEAVE
        outcome = outcome_by_hand(session.comb.asked[index], bool(at % 3), session.limits)
        assert said_words(answer, outcome) in words_of(page.side)
        assert page.comb.face_of(index) == face_by_hand(
            session.comb.asked[index], bool(at % 3), session.limits
        )
        if at + 1 == n:
            assert cells_words(session) in words_of(page.side)
        clock.go_on_ms(5000)  # the time spent looking at the reason counts for nothing
        qtbot.keyClick(page.comb, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.session is not None and page.session is not session)
    assert page.session.round.drill == TAKE_OR_LEAVE


def test_one_cell_is_answered_once(page, begin, qtbot, rows):
    session = begin(page, TAKE_OR_LEAVE)
    index = session.current_index
    qtbot.keyClick(page.comb, Qt.Key.Key_T)
    qtbot.keyClick(page.comb, Qt.Key.Key_L)
    qtbot.waitUntil(lambda: page.is_told)
    qtbot.keyClick(page.comb, Qt.Key.Key_L)
    assert session.current_index == index
    assert [row[0] for row in rows().values() if row[0]] == ["take"]


def test_nothing_of_a_cell_is_told_before_its_answer_is_stored(
    page, begin, context, hold, qtbot, press
):
    session = begin(page, TAKE_OR_LEAVE)
    assert context.keeper.flush(5.0)
    gate = hold(context.store, "keep")
    press(page, "Take it")
    qtbot.waitUntil(lambda: gate.n_come > 0)
    assert not page.is_told
    assert page.comb.face_of(session.current_index) == BARE
    gate.let_through()
    qtbot.waitUntil(lambda: page.is_told)


def test_other_cells_are_not_pressed_when_one_is_asked(page, begin, context, click, rows):
    begin(page, TAKE_OR_LEAVE)
    page.comb.see_all()
    click(page, *range(page.comb.n_cells))
    assert context.keeper.flush(5.0)
    assert taken(rows()) == set()


def test_one_cell_drill_stopped_halfway_goes_on_at_the_next_cell(
    page, begin, press, qtbot, words_of, go_on
):
    session = begin(page, TAKE_OR_LEAVE)
    asked_first = session.current_index
    qtbot.keyClick(page.comb, Qt.Key.Key_T)
    qtbot.waitUntil(lambda: page.is_told)
    press(page, "Stop here")
    assert "A comb is still open: Take or leave, 1 answered." in words_of(page)
    go_on(page)
    assert page.session.current_index != asked_first
    assert f"2 of {len(session.comb.asked)}" in words_of(page.side)


def test_one_cell_drill_stopped_after_its_last_answer_is_over(
    page, begin, press, qtbot, data, context
):
    session = begin(page, TAKE_OR_LEAVE)
    while True:
        qtbot.keyClick(page.comb, Qt.Key.Key_T)
        qtbot.waitUntil(lambda: page.is_told)
        if session.round.n_answered == len(session.comb.asked):
            break
        qtbot.keyClick(page.comb, Qt.Key.Key_Return)
    press(page, "Stop here")
    assert context.keeper.flush(5.0)
    wait_for_jobs()
    QApplication.processEvents()
    assert "Go on with it" not in shown_buttons(page)
    ((ended,),) = rounds(data)
    assert ended is not None


# Records that cannot be written for a while.


@pytest.mark.parametrize("error", [StoreFullError, StoreBusyError])
def test_trouble_is_said_and_everything_is_stored_once_it_is_over(
    page, begin, click, tell, context, rows, monkeypatch, qtbot, words_of, error
):
    monkeypatch.setattr("larvasight.desk.keeping._RETRY_S", 0.02)
    bar = TroubleBar()
    qtbot.addWidget(bar)
    context.trouble.connect(bar.say)
    session = begin(page)
    assert context.keeper.flush(5.0)
    is_in_trouble, stored = threading.Event(), []
    is_in_trouble.set()
    keep = context.store.keep

    def keep_or_fail(givens, *, now):
        if is_in_trouble.is_set():
            msg = "The disk is full just now."
            raise error(msg)
        keep(givens, now=now)
        stored.append(givens[0].cell_id)

    monkeypatch.setattr(context.store, "keep", keep_or_fail)
    click(page, 8, 2, 5)
    qtbot.waitUntil(bar.isVisible)
    assert words_of(bar) == ["The disk is full just now."]
    assert {page.comb.face_of(k) for k in (8, 2, 5)} == {PENCIL}
    assert taken(rows()) == set()
    is_in_trouble.clear()
    qtbot.waitUntil(lambda: not bar.isVisible())
    qtbot.waitUntil(lambda: {page.comb.face_of(k) for k in (8, 2, 5)} == {INK})
    assert stored == [session.comb.asked[k].id for k in (8, 2, 5)]
    assert taken(rows()) == ids(session, 8, 2, 5)
    tell(page)


def test_try_again_does_not_wait(page, begin, click, context, monkeypatch, qtbot, press):
    monkeypatch.setattr("larvasight.desk.keeping._RETRY_S", 60.0)
    bar = TroubleBar()
    qtbot.addWidget(bar)
    context.trouble.connect(bar.say)
    bar.retry.connect(context.keeper.try_again)
    begin(page)
    assert context.keeper.flush(5.0)
    keep, failures = context.store.keep, [StoreBusyError("Another program is using it.")]

    def keep_or_fail(givens, *, now):
        if failures:
            raise failures.pop()
        keep(givens, now=now)

    monkeypatch.setattr(context.store, "keep", keep_or_fail)
    click(page, 3)
    qtbot.waitUntil(bar.isVisible)
    press(bar, "Try again")
    qtbot.waitUntil(lambda: page.comb.face_of(3) == INK)
    assert not bar.isVisible()

"""The runner: what is asked, what is to be stored, and when the learner may be told."""

from uuid import UUID

import numpy as np
import pytest

from larvasight.practice import (
    DRILLS,
    PICK_FROM_PATCH,
    TAKE_OR_LEAVE,
    Answer,
    Feedback,
    Given,
    Round,
    ShownCell,
    Shows,
    drill_of,
)
from larvasight.sheet import Content


def cell(number):
    return ShownCell(
        id=UUID(int=number),
        row=0,
        col=number,
        content=Content.LARVA,
        age_h=20.0,
        looks_age_h=20.0,
        length_mm=2.5,
        curl_deg=150.0,
        jelly=None,
    )


CELLS = tuple(cell(number) for number in range(4))
IDS = tuple(shown.id for shown in CELLS)
FOREIGN = UUID(int=99)


@pytest.fixture
def patch():
    return Round(PICK_FROM_PATCH, CELLS)


@pytest.fixture
def singles():
    return Round(TAKE_OR_LEAVE, CELLS)


# The drills


def test_drills_are_found_by_their_stored_keys():
    keys = {
        *("pick-from-patch", "take-or-leave", "find-your-edges", "against-the-clock"),
        *("check-without-warm-up", "screen-test", "course-day-test"),
    }
    assert keys <= {drill.key for drill in DRILLS}
    assert len({drill.key for drill in DRILLS}) == len(DRILLS)
    assert all(drill_of(drill.key) is drill for drill in DRILLS)
    with pytest.raises(ValueError, match=r"^key must be one of .*'guess'"):
        drill_of("guess")


def test_a_drill_asks_no_more_cells_than_it_shows():
    assert all(drill.n_asked is None or drill.n_asked <= drill.n_cells for drill in DRILLS)


def test_one_cell_at_a_time_is_told_at_once_and_a_patch_at_its_end():
    assert (PICK_FROM_PATCH.shows, PICK_FROM_PATCH.feedback) == (Shows.PATCH, Feedback.AFTER_COMB)
    assert (TAKE_OR_LEAVE.shows, TAKE_OR_LEAVE.feedback) == (Shows.ONE_CELL, Feedback.AFTER_EACH)


# Either kind of round


@pytest.mark.parametrize("drill", DRILLS)
def test_a_round_begins_without_answers(drill):
    begun = Round(drill, list(CELLS))
    assert begun.cells == CELLS
    assert not begun.is_ended
    assert (begun.n_answered, begun.n_marked) == (0, 0)
    assert [begun.answer_of(cell_id) for cell_id in IDS] == [None] * len(IDS)


@pytest.mark.parametrize("drill", DRILLS)
def test_a_round_needs_cells(drill):
    with pytest.raises(ValueError, match=r"^cells must hold at least one cell"):
        Round(drill, ())


@pytest.mark.parametrize("drill", DRILLS)
def test_a_foreign_cell_has_no_answer(drill):
    assert Round(drill, CELLS).answer_of(FOREIGN) is None


# A patch


def test_a_patch_has_no_current_cell(patch):
    assert patch.current is None


def test_a_mark_is_kept_and_can_be_taken_back(patch):
    marked = patch.toggle(IDS[1], response_ms=700)
    assert marked == Given(cell_id=IDS[1], answer=Answer.TAKE, response_ms=700, is_final=False)
    assert patch.answer_of(IDS[1]) is Answer.TAKE
    assert (patch.n_answered, patch.n_marked) == (1, 1)
    back = patch.toggle(IDS[1], response_ms=900)
    assert back == Given(cell_id=IDS[1], answer=None, response_ms=900, is_final=False)
    assert patch.answer_of(IDS[1]) is None
    assert (patch.n_answered, patch.n_marked) == (0, 0)
    assert patch.toggle(IDS[1], response_ms=950).answer is Answer.TAKE


def test_enter_takes_what_is_marked_and_leaves_all_else(patch):
    patch.toggle(IDS[2], response_ms=500)
    patch.toggle(IDS[0], response_ms=800)
    patch.toggle(IDS[0], response_ms=1200)
    given = patch.enter()
    take, leave = Answer.TAKE, Answer.LEAVE
    assert [g.cell_id for g in given] == list(IDS)
    assert [g.answer for g in given] == [leave, leave, take, leave]
    # The cell that was marked and let go was touched; the others were not.
    assert [g.response_ms for g in given] == [1200, None, 500, None]
    assert all(g.is_final for g in given)
    assert patch.is_ended
    assert (patch.n_answered, patch.n_marked) == (4, 1)


def test_an_ended_patch_takes_no_more_answers(patch):
    patch.enter()
    with pytest.raises(ValueError, match=r"^toggle needs a patch that has not ended"):
        patch.toggle(IDS[0], response_ms=1)
    with pytest.raises(ValueError, match=r"^enter needs a patch that has not ended"):
        patch.enter()


def test_a_patch_knows_only_its_own_cells(patch):
    with pytest.raises(ValueError, match=rf"^cell_id must be one of .*{FOREIGN}"):
        patch.toggle(FOREIGN, response_ms=1)
    assert patch.n_answered == 0


def test_a_patch_is_not_answered_cell_by_cell(patch):
    with pytest.raises(ValueError, match=r"^answer needs a current cell"):
        patch.answer(Answer.TAKE, response_ms=1)
    with pytest.raises(ValueError, match=r"^advance needs an answered current cell"):
        patch.advance()


@pytest.mark.parametrize("seed", range(5))
def test_an_odd_number_of_touches_takes(seed):
    rng = np.random.default_rng(seed)
    patch = Round(PICK_FROM_PATCH, CELLS)
    touches = rng.integers(0, len(CELLS), 25).tolist()
    for at, number in enumerate(touches):
        given = patch.toggle(IDS[number], response_ms=at)
        assert patch.answer_of(IDS[number]) is given.answer
        assert patch.n_marked == sum(touches[: at + 1].count(i) % 2 for i in range(len(CELLS)))
    last = {number: at for at, number in enumerate(touches)}
    for number, given in enumerate(patch.enter()):
        assert (given.answer is Answer.TAKE) == (touches.count(number) % 2 == 1)
        assert given.response_ms == last.get(number)


# One cell at a time


def test_cells_are_asked_in_their_order(singles):
    given = []
    for number, shown in enumerate(CELLS):
        assert singles.current is shown
        answer = Answer.TAKE if number % 2 else Answer.LEAVE
        given.append(singles.answer(answer, response_ms=100 + number))
        # It stays before the learner; the next waits for the key.
        assert singles.current is shown
        assert singles.n_answered == number + 1
        assert not singles.is_ended
        following = singles.advance()
        assert following is (CELLS[number + 1] if number + 1 < len(CELLS) else None)
    assert singles.is_ended
    assert singles.current is None
    assert singles.n_marked == 2
    assert given[1] == Given(cell_id=IDS[1], answer=Answer.TAKE, response_ms=101, is_final=True)
    assert all(g.is_final for g in given)


def test_an_answer_is_given_once(singles):
    singles.answer(Answer.LEAVE, response_ms=100)
    with pytest.raises(ValueError, match=r"^answer needs a current cell without an answer"):
        singles.answer(Answer.TAKE, response_ms=200)
    assert singles.answer_of(IDS[0]) is Answer.LEAVE


def test_no_cell_is_passed_over(singles):
    with pytest.raises(ValueError, match=r"^advance needs an answered current cell"):
        singles.advance()
    assert singles.current is CELLS[0]


def test_an_ended_round_asks_nothing_more():
    one = Round(TAKE_OR_LEAVE, CELLS[:1])
    one.answer(Answer.TAKE, response_ms=100)
    assert one.advance() is None
    with pytest.raises(ValueError, match=r"^answer needs"):
        one.answer(Answer.TAKE, response_ms=100)
    with pytest.raises(ValueError, match=r"^advance needs"):
        one.advance()


def test_a_single_cell_is_neither_marked_nor_entered(singles):
    with pytest.raises(ValueError, match=r"^toggle needs a patch"):
        singles.toggle(IDS[0], response_ms=1)
    with pytest.raises(ValueError, match=r"^enter needs a patch"):
        singles.enter()

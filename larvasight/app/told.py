"""How cells look once their answers are told, and where to look first."""

from larvasight.app.cell_item import Face, Rim
from larvasight.app.practise_words import result_title, result_words, row_words
from larvasight.desk.own_told import NOT_SCORED
from larvasight.desk.practising import Session
from larvasight.grading import age_words
from larvasight.paper.marks import OUTCOME_MARKS, Mark
from larvasight.practice import Answer
from larvasight.practice.scoring import Outcome
from larvasight.sheet import Content

_LOOK_FIRST = (
    *(Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA, Outcome.MISSED),
    *(Outcome.JUST_PAST, Outcome.RIGHT, Outcome.VERY_YOUNG),
)

_WRONG = frozenset({Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA, Outcome.MISSED})
_NEITHER = frozenset({Outcome.JUST_PAST, Outcome.LEFT_OPEN, Outcome.HIDDEN})


UNSCORED = Face(rim=Rim.UNSCORED, words=NOT_SCORED)


def marked_face(session: Session, index: int, *, is_stored: bool) -> Face:
    """Return what is drawn over a cell of a patch before it is told: its mark, or nothing."""
    cell = session.comb.asked[index]
    if session.round.answer_of(cell.id) is Answer.TAKE:
        return Face(rim=Rim.INK if is_stored else Rim.PENCIL)
    return UNSCORED if session.comb.own and not cell.is_plain else Face()


def told_face(session: Session, index: int) -> Face:
    """Return what is drawn over a cell: the mark of its outcome, and a larva's true age."""
    cell = session.comb.asked[index]
    if session.comb.own and not cell.is_plain:
        return UNSCORED
    outcome = session.outcome(index)
    words = ""
    if cell.content is Content.LARVA and cell.age_h is not None:
        own = session.comb.own
        words = own[index].words if own else age_words(cell.age_h, session.limits)
    mark = OUTCOME_MARKS.get(outcome)
    if mark is None:
        return Face(rim=Rim.FAINT, words=words)
    rim = Rim.OPEN_VERDICT if outcome is Outcome.MISSED else Rim.VERDICT
    return Face(rim=rim, mark=mark, words=words)


def marks_told(session: Session) -> list[Mark]:
    """Return the marks that are on a comb, each once."""
    there = {session.outcome(index) for index in range(len(session.comb.asked))}
    return [mark for outcome, mark in OUTCOME_MARKS.items() if outcome in there]


def first_to_look_at(session: Session) -> int:
    """Return the costliest mistake, else a missed cell, else the first taken, else the first."""
    found = [session.outcome(index) for index in range(len(session.comb.asked))]
    plain = next((k for k, outcome in enumerate(found) if outcome is not Outcome.HIDDEN), 0)
    return next((found.index(outcome) for outcome in _LOOK_FIRST if outcome in found), plain)


def comb_words(session: Session) -> tuple[str, str]:
    """Return a line on how a patch went, and what was wrong, not counted and missed."""
    taken = [
        session.outcome(index)
        for index, cell in enumerate(session.comb.asked)
        if session.round.answer_of(cell.id) is Answer.TAKE
    ]
    n_past, n_hidden = taken.count(Outcome.JUST_PAST), taken.count(Outcome.HIDDEN)
    score = session.score()
    words = result_words(score, n_past, n_hidden, is_own=bool(session.comb.own))
    return result_title(score, n_past + n_hidden), words


def cells_words(session: Session) -> str:
    """Return how many of the cells that were asked one by one were answered rightly."""
    found = [session.outcome(index) for index in range(len(session.comb.asked))]
    counted = [outcome for outcome in found if outcome not in _NEITHER]
    n_right = sum(outcome not in _WRONG for outcome in counted)
    # Cells of a course that were not come to have no answer.
    n_open = session.round.n_answered - len(counted)
    return row_words(n_right, len(counted), max(0, n_open))

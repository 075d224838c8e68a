"""The short test of a course day: 40 cells, honest about how little that is, and no pass."""

from dataclasses import dataclass

from larvasight.practice.measuring import edges_of
from larvasight.practice.scoring import Score, outcomes, score
from larvasight.practice.table import AnswerTable
from larvasight.stats import EdgePosterior

N_CELLS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseDay:
    """What 40 cells tell of a learner. It has no pass: so few cells cannot carry one.

    ``score.right`` is the interval of the share of right picks and ``edges`` hold theirs; both
    are wide and are to be told with their intervals only.
    """

    score: Score
    edges: EdgePosterior
    sentence: str


def course_day(table: AnswerTable) -> CourseDay:
    """Return what the short test tells.

    Parameters
    ----------
    table : AnswerTable
        The answers of this test alone.

    Raises
    ------
    ValueError
        If it has not ``N_CELLS`` answers.
    """
    if len(table) != N_CELLS:
        msg = f"table must hold {N_CELLS} answers, got {len(table)}"
        raise ValueError(msg)
    found, edges = score(outcomes(table), table.response_ms), edges_of(table)
    return CourseDay(score=found, edges=edges, sentence=_sentence(found, edges))


def _sentence(found: Score, edges: EdgePosterior) -> str:
    if found.right is None:
        return f"Of {N_CELLS} cells you took none that counts, so nothing can be told."
    lo, hi = round(100.0 * found.right.lo), round(100.0 * found.right.hi)
    old = edges.old_edge_h
    return (
        f"{found.n_right} of {found.n_picks} picks were right: on many combs it may be {lo} to"
        f" {hi} of 100. The oldest you take look {old.lo:.0f} to {old.hi:.0f} h."
        " A short test shows where you stand; it cannot show that you are ready."
    )

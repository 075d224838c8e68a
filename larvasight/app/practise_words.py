"""What the Practise page says."""

from larvasight.grading import Limits
from larvasight.practice import Answer
from larvasight.practice.scoring import OUTCOME_WORDS, Outcome, Score

LOOK_FOR = (
    "Look for a small larva that curves on its bed of jelly, not yet a C, "
    "not much longer than an egg."
)


def span_words(limits: Limits) -> str:
    """Say which ages are wanted."""
    by = f"by the line of {limits.by}, " if limits.by else ""
    return (
        f"Wanted: {limits.young_h:.0f}\N{EN DASH}{limits.old_h:.0f} hours after hatching, {by}"
        f"best {limits.best_young_h:.0f}\N{EN DASH}{limits.best_old_h:.0f}."
    )


def doubt_words(n_marked: int, n_unseen: int) -> str:
    """Ask whether a comb is done where that may be a slip; empty where it is plain."""
    doubts = ["Nothing is marked."] if n_marked == 0 else []
    if n_unseen > 0:
        many = "1 cell was" if n_unseen == 1 else f"{n_unseen} cells were"
        doubts.append(f"{many} never in view.")
        return " ".join([*doubts, "Are you done with this comb?"])
    return " ".join([*doubts, "Is there none to graft on this comb?"]) if doubts else ""


def result_title(score: Score, n_neither: int) -> str:
    """Say in one line how a comb went; ``n_neither`` were taken, too, but do not count."""
    if score.n_picks == 0:
        return "You took none that counts." if n_neither else "You took none."
    which = "that count" if n_neither else "you took"
    if score.n_right == score.n_picks:
        if score.n_picks == 1:
            one = "The one that counts" if n_neither else "The one you took"
            return f"{one} was young enough."
        return f"All {score.n_picks} {which} were young enough."
    return f"{score.n_right} of {score.n_picks} {which} were young enough."


def result_words(score: Score, n_past: int, n_hidden: int, *, is_own: bool = False) -> str:
    """Say what was wrong, what does not count, and what was missed on a comb.

    On an own one cells are not counted for other reasons, too, than that they are hidden.
    """
    wrong = _listed(
        (score.n_too_old, "too old"),
        (score.n_egg, "egg" if score.n_egg == 1 else "eggs"),
        (score.n_no_larva, "without a larva"),
    )
    hidden = "without a sure answer" if is_own else "half hidden"
    neither = _listed((n_past, "just past the limit"), (n_hidden, hidden))
    told = [f"Wrong: {wrong}."] if wrong else []
    if neither:
        told.append(f"Not counted: {neither}.")
    if score.n_good == 0:
        told.append("This comb had no larva of the right age: that happens.")
    elif score.n_missed == 0:
        told.append("You left none of the right ones.")
    elif score.n_missed == score.n_good:
        only = score.n_good == 1
        told.append("You left the only right one." if only else "You left every right one.")
    else:
        told.append(f"You left {score.n_missed} of {score.n_good} right ones.")
    return " ".join(told)


def _listed(*counted: tuple[int, str]) -> str:
    return ", ".join(f"{n} {words}" for n, words in counted if n)


def row_words(n_right: int, n_counted: int, n_open: int = 0) -> str:
    """Say how many single cells of a comb were answered rightly, and how many do not count."""
    said = f"This comb: {n_right} of {n_counted} answered rightly."
    if n_open:
        said += f" {n_open} more {'counts' if n_open == 1 else 'count'} neither way."
    return said


def said_words(answer: Answer, outcome: Outcome) -> str:
    """Say what the learner answered of one cell and what that was."""
    did = "You took it" if answer is Answer.TAKE else "You left it"
    words = {
        Outcome.RIGHT: "right.",
        Outcome.VERY_YOUNG: "right, though hard to lift.",
        Outcome.MISSED: "it was young enough.",
        Outcome.LEFT: "right.",
        Outcome.LEFT_OPEN: "that is fine.",
        Outcome.HIDDEN: "not counted.",
        Outcome.JUST_PAST: "just past the limit, not counted.",
        Outcome.TOO_OLD: "it is too old.",
        Outcome.EGG: "it is an egg.",
        Outcome.NO_LARVA: "there is no larva.",
    }
    return f"{did}: {words.get(outcome, OUTCOME_WORDS[outcome])}"

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
    return (
        f"Wanted: {limits.young_h:.0f}\N{EN DASH}{limits.old_h:.0f} hours after hatching, "
        f"best {limits.best_young_h:.0f}\N{EN DASH}{limits.best_old_h:.0f}."
    )


def result_title(score: Score, n_not_counted: int) -> str:
    """Say in one line how a comb went; ``n_not_counted`` were taken, too, but do not count."""
    n_taken = score.n_picks + n_not_counted
    if n_taken == 0:
        return "You took none."
    if score.n_right == n_taken:
        many = "The one you took was" if n_taken == 1 else f"All {n_taken} you took were"
        return f"{many} young enough."
    return (
        f"{score.n_right} of {n_taken} you took {'was' if n_taken == 1 else 'were'} young enough."
    )


def result_words(score: Score, n_not_counted: int) -> str:
    """Say what was wrong and what was missed on a comb."""
    wrong = [
        words
        for n, words in (
            (score.n_too_old, f"{score.n_too_old} too old"),
            (score.n_egg, "1 egg" if score.n_egg == 1 else f"{score.n_egg} eggs"),
            (score.n_no_larva, f"{score.n_no_larva} without a larva"),
        )
        if n
    ]
    told = [f"Wrong: {', '.join(wrong)}."] if wrong else []
    if n_not_counted:
        past = "1 was" if n_not_counted == 1 else f"{n_not_counted} were"
        told.append(f"{past} too near the limit to count.")
    if score.n_good == 0:
        told.append("This comb had no larva of the right age: that happens.")
    elif score.n_missed == 0:
        told.append("You left none of the right ones.")
    elif score.n_missed == score.n_good:
        told.append(
            "You left the only right one." if score.n_good == 1 else "You left every right one."
        )
    else:
        told.append(f"You left {score.n_missed} of {score.n_good} right ones.")
    return " ".join(told)


def row_words(n_right: int, n_answered: int) -> str:
    """Say how many single cells of a comb were answered rightly."""
    return f"This comb: {n_right} of {n_answered} answered rightly."


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

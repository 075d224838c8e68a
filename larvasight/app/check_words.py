"""What is said before and after a check without warm-up and the course day's test."""

from larvasight.desk.checks import ToldCheck
from larvasight.grading import Limits
from larvasight.paper.lettering import NO_BREAK
from larvasight.paper.line_words import sure_text
from larvasight.paper.report_words import date_text
from larvasight.practice import Drill, Score
from larvasight.practice.drills import COURSE_DAY_TEST
from larvasight.stats import Estimate

NO_PASS = (
    "Forty cells show where you stand, and no more: there is no pass. A result on a screen is not "
    "a licence and does not show live skill."
)


def before_words(drill: Drill, *, is_warm: bool) -> str:
    """Say what is to come, and that practice before it makes it tell less."""
    if drill.key == COURSE_DAY_TEST.key:
        said = "40 cells of fresh comb, one at a time, about four minutes. There is no pass."
    else:
        said = (
            "Fresh comb, one cell at a time, before you practise anything: it shows whether your "
            "eye has kept what it learnt. 20 cells take two minutes, 40 tell more."
        )
    said += " Nothing is told until the end."
    if is_warm and drill.key != COURSE_DAY_TEST.key:
        said += " You have practised today already, so today it tells less than on another morning."
    return said


def share_title(score: Score) -> str:
    """Say how many of those taken were young enough."""
    if score.right is None:
        return "You took none that counts."
    if score.n_right == score.n_picks:
        return f"All {score.n_picks} that you took were young enough."
    return f"{score.n_right} of {score.n_picks} that you took were young enough."


def share_words(score: Score) -> str:
    """Say how sure that is, in plain numbers."""
    if score.right is None:
        return "So nothing can be told of your picks."
    lo, hi = round(100.0 * score.right.lo), round(100.0 * score.right.hi)
    return f"So few cells leave much to chance: on many combs it may be {lo} to {hi} of 100."


def mistake_words(score: Score) -> str:
    """Say which mistakes there were, by kind."""
    kinds = (
        (score.n_too_old, "too old"),
        (score.n_egg, "an egg" if score.n_egg == 1 else "eggs"),
        (score.n_no_larva, "without a larva"),
    )
    wrong = ", ".join(f"{n} {words}" for n, words in kinds if n)
    told = [f"Wrong: {wrong}."] if wrong else ["None was wrong."]
    if score.n_good:
        told.append(
            "You left none of the right ones."
            if score.n_missed == 0
            else f"You left {score.n_missed} of {score.n_good} right ones."
        )
    return " ".join(told)


def held_words(told: ToldCheck) -> str:
    """Say whether the eye has held since the check before."""
    if told.before is None:
        return "This was your first check: the next one will show whether your eye holds."
    day = told.before.day
    since = f"since {date_text(day.day, day.month, day.year)}"
    if told.moved is not None and told.has_moved:
        way = "older" if told.moved.value > 0.0 else "younger"
        about = f"{abs(told.moved.value):.0f}{NO_BREAK}h"
        return f"The oldest you take has moved about {about} to {way} larvae {since}."
    if told.has_held is False:
        return (
            f"Fewer were right than {since.replace('since', 'on')}: practise a little more often."
        )
    return f"Your eye has held {since}."


def old_words(old: Estimate, limits: Limits) -> str:
    """Say between which ages the oldest taken lies, against the limit."""
    limit = f"{limits.old_h:.0f}{NO_BREAK}h"
    return f"The oldest you take lies most likely within {sure_text(old)}; the limit is {limit}."

"""What a learner's page says: figures with their meaning, and what they cannot tell."""

import math
from dataclasses import dataclass

from larvasight.paper.lettering import DASH, NO_BREAK
from larvasight.practice import TOO_FEW, Progress, Score

# Share, four kinds of mistakes, pace.
FIGURES_MOST = 6
CANNOT_TELL_TITLE = "What these numbers cannot tell"
CAUTIONS_TITLE = "Bear in mind"
CAUTIONS = (
    "The screen cannot show disease: brood that is yellow, brown, sunken or smells means stop "
    "and ask your bee inspector.",
    f"No real larva under about 36{NO_BREAK}h has been available to test on; ages rest on "
    "published weights and a derived curl curve.",
    "A result on a screen is not a licence.",
)
_FULL_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A number to be printed large and the words that follow it."""

    value: str
    words: str


def main_figures(progress: Progress) -> tuple[Figure, ...]:
    """Return how many cells were judged, and how many of those taken were young enough."""
    score = progress.score
    if not progress.is_enough:
        few = f"{score.n_answers} of {TOO_FEW}"
        return (Figure(value=few, words="cells judged: too few to tell anything yet"),)
    judged = Figure(value=f"{score.n_answers:,}", words="cells judged")
    if score.right is None:
        return judged, Figure(value="0", words="taken, so nothing can be said of your picks")
    share = _percent(score.n_right / score.n_picks)
    low, high = (f"{100.0 * limit:.0f}" for limit in (score.right.lo, score.right.hi))
    about = f"{low}{DASH}{high}" if low != high else low
    right = Figure(
        value=f"{score.n_right:,} of {score.n_picks:,}",
        words=f"taken were young enough: {share} (about {about}{NO_BREAK}%)",
    )
    return judged, right


def small_figures(score: Score) -> tuple[Figure, ...]:
    """Return the mistakes by kind, and the pace if it is known."""
    figures = [
        Figure(value=f"{score.n_too_old:,}", words="taken too old"),
        Figure(value=f"{score.n_egg:,}", words="eggs taken"),
        Figure(value=f"{score.n_no_larva:,}", words="taken, no larva"),
        Figure(value=f"{score.n_missed:,} of {score.n_good:,}", words="right ones left"),
    ]
    if math.isfinite(score.pace_ms):
        figures.append(Figure(value=pace_text(score.pace_ms), words="for a usual cell"))
    return tuple(figures)


def page_figures(progress: Progress) -> tuple[Figure, ...]:
    """Return the figures for a screen: the share first, only mistakes that were made."""
    if not progress.is_enough or progress.score.right is None:
        return main_figures(progress)
    mistakes = [figure for figure in small_figures(progress.score) if figure.value != "0"]
    return main_figures(progress)[1], *mistakes


def pace_text(pace_ms: float) -> str:
    """Return a duration with as many digits as matter."""
    seconds = pace_ms / 1000.0
    if seconds < 9.95:
        return f"{seconds:.1f}{NO_BREAK}s"
    if seconds < 99.5:
        return f"{seconds:.0f}{NO_BREAK}s"
    return f"{seconds / 60.0:.0f}{NO_BREAK}min"


def date_text(day: int, month: int, year: int) -> str:
    """Return a date as it is said."""
    return f"{day}{NO_BREAK}{_FULL_MONTHS[month - 1]} {year}"


def cannot_tell(progress: Progress) -> tuple[str, ...]:
    """Return what must not be read into the figures."""
    said = [
        "All cells were on a screen or on paper. How you pick from a frame in your hand, with bees "
        "and glare, may differ.",
        "They say nothing of how you lift a larva or whether the bees accept it.",
    ]
    score = progress.score
    if progress.is_enough and score.right is not None:
        said.append(
            "With few cells much is chance: see the span in brackets and the lines through "
            "the dots."
        )
    if progress.is_enough and score.n_not_counted:
        said.append(
            f"Cells that count neither way: {score.n_not_counted:,}. They were just too old, "
            "hidden, or very young and left."
        )
    return tuple(said)


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}{NO_BREAK}%"

"""Finding a learner's edges: which cells a measuring block asks, and when it ends.

While measuring, nothing is told: being told moves the line that is to be measured.
"""

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry.facts import Fact, Label
from larvasight.practice.scoring import Outcome, outcomes
from larvasight.practice.table import CONTENT_CODES, AnswerTable
from larvasight.sheet import Content
from larvasight.stats import EdgePosterior

EGG_LOOKS = Fact(
    name="age that an egg counts as looking when edges are found",
    value=-6.0,
    unit="h",
    label=Label.DERIVED,
    source="judgement: younger than any larva, whatever the egg's own age, which no eye can tell",
)
EGG_LOOKS_H = EGG_LOOKS.value

FACTS: tuple[Fact, ...] = (EGG_LOOKS,)

BLOCK_CELLS = 40
KNOWN_TO_H = 3.0

# An egg, and larvae from hatching to far past any limit.
ASKED_AGES_H = (EGG_LOOKS_H, *(2.0 * step for step in range(37)))
_EASY_EVERY = 5
_EASY_OLD_H = 66.0
# One narrow interval may be luck: it has to stay narrow.
_CHECKS_IN_A_ROW = 2

_LARVA_CODE = CONTENT_CODES.index(Content.LARVA)
_EGG_CODE = CONTENT_CODES.index(Content.EGG)


class MeasuringBlock:
    """Up to 40 cells that tell most about both edges, every fifth of them an easy one.

    Cells that tell most lie where the learner doubts: about half the answers are wrong. Easy cells
    keep up the spirit and show how often the learner slips. The block ends early when both
    edges are known to within 3 h each way twice in a row.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance, for the easy cells.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self._posterior = EdgePosterior(ASKED_AGES_H)
        self._n_narrow = 0

    @property
    def posterior(self) -> EdgePosterior:
        """What the answers tell of the edges so far."""
        return self._posterior

    @property
    def is_ended(self) -> bool:
        """Whether nothing more is asked."""
        return self._posterior.n_answers >= BLOCK_CELLS or self._n_narrow >= _CHECKS_IN_A_ROW

    def next_age_h(self) -> float | None:
        """Return the age that the next cell should look, None when the block has ended.

        A negative age asks for an egg, of whatever age.
        """
        return None if self.is_ended else next_measuring_age_h(self._posterior, self._rng)

    def answer(self, looks_age_h: float, picked: bool) -> None:
        """Take in one answer.

        Parameters
        ----------
        looks_age_h : float
            The age that the larva shown looks, h; ``EGG_LOOKS_H`` for an egg.
        picked : bool
            Whether the learner took it.

        Raises
        ------
        ValueError
            If the block has ended or the age cannot be.
        """
        if self.is_ended:
            msg = "answer needs a block that has not ended"
            raise ValueError(msg)
        self._posterior.update(looks_age_h, picked)
        narrow = self._posterior.is_known_to(KNOWN_TO_H)
        self._n_narrow = self._n_narrow + 1 if narrow else 0


def next_measuring_age_h(posterior: EdgePosterior, rng: np.random.Generator) -> float:
    """Return the age that tells most of both edges, or every fifth time an easy one.

    An easy cell is far past any limit, or in the middle between the edges.

    Parameters
    ----------
    posterior : EdgePosterior
        What the answers of this block tell so far.
    rng : numpy.random.Generator
        Source of chance, for which kind of easy cell.
    """
    if (posterior.n_answers + 1) % _EASY_EVERY:
        return posterior.next_age_h()
    if rng.random() < 0.5:
        return _EASY_OLD_H
    return float(round((posterior.young_edge_h.value + posterior.old_edge_h.value) / 2.0))


def edges_of(table: AnswerTable) -> EdgePosterior:
    """Return what answers tell of a learner's edges.

    Larvae count at the age they look, which is all that an eye can see; at their true age where
    that is unknown. Eggs count as looking ``EGG_LOOKS_H``. What no eye can tell and cells
    without brood say nothing.

    Parameters
    ----------
    table : AnswerTable
        Answers of one learner from one time: edges move within weeks.
    """
    ages_h = seen_ages_h(table)
    told = ~np.isnan(ages_h)
    posterior = EdgePosterior(ASKED_AGES_H)
    posterior.update_many(ages_h[told], table.taken[told])
    return posterior


def seen_ages_h(table: AnswerTable) -> NDArray[np.float64]:
    """Return the age at which each answer counts for the edges, h, shape (N,).

    That of eggs is ``EGG_LOOKS_H``; NaN where an answer says nothing of the edges.
    """
    ages_h = np.where(np.isnan(table.looks_age_h), table.age_h, table.looks_age_h)
    ages_h = np.where(table.content == _EGG_CODE, EGG_LOOKS_H, ages_h)
    told = (outcomes(table) != Outcome.HIDDEN) & ~np.isnan(ages_h)
    told &= (table.content == _LARVA_CODE) | (table.content == _EGG_CODE)
    return np.where(told, ages_h, np.nan)

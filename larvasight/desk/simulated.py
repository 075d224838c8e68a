"""A simulated learner: it judges what it sees of a cell, never the cell's true age."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Protocol

import numpy as np

from larvasight.errors import require_between
from larvasight.growth import AGE_MAX_H, looks_age_h
from larvasight.practice import Answer
from larvasight.sheet import Content

N_SESSIONS = 10
_CURL_SEEN_MOST_DEG = 400.0
# A usual answer, and its spread in logarithms.
_RESPONSE_MS = 1400.0
_RESPONSE_SD = 0.4


class SeenCell(Protocol):
    """What an eye can see of a cell: what lies in it, how long and how curled that is.

    True cells, measured cells and shown cells all have it. Nothing here tells an age.
    """

    @property
    def content(self) -> Content:
        """What the cell holds."""

    @property
    def length_mm(self) -> float | None:
        """Length of the body along its midline, None where there is none or it is hidden."""

    @property
    def curl_deg(self) -> float | None:
        """Angle that the body sweeps, None where it cannot be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedEye:
    """An eye that takes a larva whose size and curl look neither too young nor too old.

    Attributes
    ----------
    young_edge_h, old_edge_h : float
        Youngest and oldest age that a larva may look to be taken.
    length_sd_share, curl_sd_deg : float
        Errors of the eye: standard deviation of the logarithm of length, and of curl.
    slip_share : float
        Answers turned into their opposite, whatever the cell holds.
    egg_confusion_share : float
        Eggs taken for larvae just hatched.
    """

    young_edge_h: float
    old_edge_h: float
    length_sd_share: float
    curl_sd_deg: float
    slip_share: float
    egg_confusion_share: float

    def __post_init__(self) -> None:
        """Refuse edges that cross, negative errors and shares beyond 0-1."""
        require_between("young_edge_h", self.young_edge_h, 0.0, self.old_edge_h)
        require_between("old_edge_h", self.old_edge_h, self.young_edge_h, AGE_MAX_H)
        require_between("length_sd_share", self.length_sd_share, 0.0, 1.0)
        require_between("curl_sd_deg", self.curl_sd_deg, 0.0, 180.0)
        require_between("slip_share", self.slip_share, 0.0, 1.0)
        require_between("egg_confusion_share", self.egg_confusion_share, 0.0, 1.0)

    def answers(self, cells: Sequence[SeenCell], rng: np.random.Generator) -> list[Answer]:
        """Return what the eye answers to each cell.

        Parameters
        ----------
        cells : sequence of SeenCell
            Cells as they lie in the picture.
        rng : numpy.random.Generator
            Source of chance; the same draws are made whatever the cells hold.
        """
        n = len(cells)
        lengthened = np.exp(rng.normal(0.0, self.length_sd_share, n))
        curled_deg = rng.normal(0.0, self.curl_sd_deg, n)
        confused = rng.random(n) < self.egg_confusion_share
        slips = rng.random(n) < self.slip_share
        answers = []
        for k, cell in enumerate(cells):
            looks_h = None
            if cell.content is Content.LARVA or (cell.content is Content.EGG and confused[k]):
                looks_h = _looks_h(cell, float(lengthened[k]), float(curled_deg[k]))
            wanted = looks_h is not None and self.young_edge_h <= looks_h <= self.old_edge_h
            answers.append(Answer.TAKE if wanted != bool(slips[k]) else Answer.LEAVE)
        return answers


def responses_ms(n_answers: int, rng: np.random.Generator) -> list[int]:
    """Return how long each of some answers takes: about 1.4 s, seldom much longer."""
    drawn = rng.lognormal(math.log(_RESPONSE_MS), _RESPONSE_SD, n_answers)
    return [round(value) for value in drawn.tolist()]


def improving_eyes(n_sessions: int = N_SESSIONS) -> tuple[SimulatedEye, ...]:
    """Return a learner's eye in each of some sessions, evenly better from first to last.

    A beginner takes nearly all that is small or open, eggs among it; in the end hardly
    anything too old is taken.

    Raises
    ------
    ValueError
        If there are fewer than two sessions.
    """
    require_between("n_sessions", n_sessions, 2, math.inf)
    first = SimulatedEye(
        young_edge_h=0.0,
        old_edge_h=40.0,
        length_sd_share=0.1,
        curl_sd_deg=25.0,
        slip_share=0.05,
        egg_confusion_share=0.3,
    )
    last = SimulatedEye(
        young_edge_h=4.0,
        old_edge_h=29.0,
        length_sd_share=0.05,
        curl_sd_deg=12.0,
        slip_share=0.01,
        egg_confusion_share=0.02,
    )
    return tuple(_between(first, last, k / (n_sessions - 1)) for k in range(n_sessions))


def _between(first: SimulatedEye, last: SimulatedEye, share: float) -> SimulatedEye:
    names = [field.name for field in fields(SimulatedEye)]
    return SimulatedEye(
        **{n: (1.0 - share) * getattr(first, n) + share * getattr(last, n) for n in names}
    )


def _looks_h(cell: SeenCell, lengthened: float, curled_deg: float) -> float | None:
    """Return the age that a body looks to an eye with these errors, None where none is seen."""
    if cell.length_mm is None:
        return None
    curl_deg = None
    if cell.curl_deg is not None:
        curl_deg = min(max(cell.curl_deg + curled_deg, 0.0), _CURL_SEEN_MOST_DEG)
    return looks_age_h(lengthened * cell.length_mm, curl_deg)

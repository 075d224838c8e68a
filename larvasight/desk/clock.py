"""Against the clock: whether a learner may begin, the own usual time, and how a round went."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from larvasight.desk.kept_answers import outcomes_of, table_of
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE, Answer, Outcome, score
from larvasight.practice.drills import AGAINST_THE_CLOCK
from larvasight.practice.pace import N_OWN_LEAST, RIGHT_SHARE_LEAST, own_pace_ms, time_limit_ms
from larvasight.practice.scoring import outcomes

if TYPE_CHECKING:
    from larvasight.desk.practising import Session
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

# Skill and pace are read from the latest combs only: both move within weeks.
_ROUNDS = 12
# A whole comb side tells enough by itself.
_CELLS = 500
_PICKS_LEAST = 20
_WRONG = frozenset({Outcome.TOO_OLD, Outcome.EGG, Outcome.NO_LARVA, Outcome.MISSED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Whether a learner may practise against the clock.

    ``pace_ms`` is the usual time for a right answer, None with fewer than 20 of them, of which
    there are ``n_times``. ``n_right`` of the latest ``n_picks`` picks were right.
    """

    pace_ms: float | None
    n_times: int
    n_right: int
    n_picks: int

    @property
    def is_right_enough(self) -> bool:
        """Whether picks are right often enough: never speed before skill."""
        is_enough = self.n_picks >= _PICKS_LEAST
        return is_enough and self.n_right >= RIGHT_SHARE_LEAST * self.n_picks

    @property
    def is_open(self) -> bool:
        """Whether a round can be begun."""
        return self.is_right_enough and self.pace_ms is not None

    @property
    def missing(self) -> str:
        """What is missing, in plain words; empty when nothing is."""
        said = []
        if not self.is_right_enough:
            said.append(
                "First 9 in 10 of your picks should be right, then comes speed: of the latest "
                f"{self.n_picks} picks {self.n_right} were."
                if self.n_picks >= _PICKS_LEAST
                else f"First pick {_PICKS_LEAST} larvae without the clock: {self.n_picks} so far."
            )
        if self.pace_ms is None:
            said.append(
                f"Your usual time is known after {N_OWN_LEAST} right answers in "
                f"{TAKE_OR_LEAVE.title}: {self.n_times} so far."
            )
        return " ".join(said)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockRound:
    """How a round went: right, wrong and too late, and the learner's time for what was answered."""

    n: int
    n_right: int
    n_late: int
    pace_ms: float | None
    n_eased: int


def clock_of(store: "Store", learner_id: UUID, *, until: datetime | None = None) -> Clock:
    """Return whether a learner may practise against the clock, by combs shown before ``until``.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    single = [TAKE_OR_LEAVE.key, AGAINST_THE_CLOCK.key]

    def latest(drills: list[str], n_latest: int) -> "list[KeptRound]":
        rounds = store.kept_rounds(learner_id, drills, n_latest=n_latest, n_cells=_CELLS)
        return [kept for kept in rounds if until is None or kept.shown_at_utc < until]

    picked = latest([PICK_FROM_PATCH.key, *single], _ROUNDS)
    table = table_of(picked)
    found = score(outcomes(table), table.response_ms)
    times = []
    for kept in latest(single, _ROUNDS):
        took = {given.cell_id: given.response_ms for given in kept.givens if given is not None}
        times += [
            float(response_ms)
            for cell, outcome in outcomes_of(kept)
            if outcome not in _WRONG and (response_ms := took.get(cell.id)) is not None
        ]
    return Clock(
        pace_ms=own_pace_ms(times),
        n_times=len(times),
        n_right=found.n_right,
        n_picks=found.n_picks,
    )


def limit_ms(session: "Session", pace_ms: float) -> float:
    """Return how long the next cell of a round may take, ms."""
    return time_limit_ms(pace_ms, answers_right(session))


def answers_right(session: "Session") -> list[bool]:
    """Return which answers so far were right, in the order of asking; too late is wrong."""
    return [
        right for right in (_is_right(session, k) for k in _asked(session)) if right is not None
    ]


def round_of(session: "Session") -> ClockRound:
    """Return how a round went."""
    rights = answers_right(session)
    given = [session.round.answer_of(session.comb.asked[k].id) for k in _asked(session)]
    n_late = given.count(Answer.CANNOT_TELL)
    took = session.round.responses_ms()
    told = [
        float(took[k])
        for k, answer in zip(_asked(session), given, strict=True)
        if answer in (Answer.TAKE, Answer.LEAVE)
    ]
    return ClockRound(
        n=len(rights),
        n_right=sum(rights),
        n_late=n_late,
        pace_ms=sorted(told)[len(told) // 2] if told else None,
        n_eased=(len(rights) - sum(rights)) // 2,
    )


def is_late(session: "Session", index: int) -> bool:
    """Return whether the time for a cell ran out."""
    return session.round.answer_of(session.comb.asked[index].id) is Answer.CANNOT_TELL


def _asked(session: "Session") -> Sequence[int]:
    return range(len(session.comb.asked))


def _is_right(session: "Session", index: int) -> bool | None:
    """Return whether an answer was right; None where there is none yet."""
    answer = session.round.answer_of(session.comb.asked[index].id)
    if answer is None:
        return None
    return answer is not Answer.CANNOT_TELL and session.outcome(index) not in _WRONG

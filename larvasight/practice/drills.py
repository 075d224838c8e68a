"""The drills: each is one declaration on the shared runner of ``practice.rounds``."""

from dataclasses import dataclass, replace
from enum import StrEnum

from larvasight.practice.measuring import BLOCK_CELLS


class Shows(StrEnum):
    """What lies before the learner at once."""

    PATCH = "patch"
    ONE_CELL = "one-cell"


class Feedback(StrEnum):
    """When the learner is told."""

    AFTER_EACH = "after-each"
    AFTER_COMB = "after-comb"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """One kind of exercise.

    ``key`` is stored with every answer and never changes. ``n_cells`` is about how many whole
    cells a comb shows, ``n_asked`` how many of them are asked; None asks all. ``is_side`` puts a
    whole side of comb before the learner, larger than can be judged at once.
    """

    key: str
    title: str
    task: str
    shows: Shows
    feedback: Feedback
    n_cells: int
    trains: str
    n_asked: int | None = None
    is_side: bool = False


PICK_FROM_PATCH = Drill(
    key="pick-from-patch",
    title="Pick from a patch",
    task="Mark every larva you would graft, then press Enter.",
    shows=Shows.PATCH,
    feedback=Feedback.AFTER_COMB,
    n_cells=30,
    trains="Picking as on a real comb: choose among many cells, then see why.",
)
# The same drill, and stored as such, on a comb that is gone over part by part.
PICK_FROM_SIDE = replace(
    PICK_FROM_PATCH, title="Pick from a whole comb side", n_cells=600, is_side=True
)
TAKE_OR_LEAVE = Drill(
    key="take-or-leave",
    title="Take or leave",
    task="Would you take this one to graft?",
    shows=Shows.ONE_CELL,
    feedback=Feedback.AFTER_EACH,
    n_cells=30,
    n_asked=10,
    trains="The line between young enough and too old: ages near your own line, told at once.",
)
FIND_YOUR_EDGES = Drill(
    key="find-your-edges",
    title="Where do you draw the line?",
    task="Would you take this one to graft?",
    shows=Shows.ONE_CELL,
    feedback=Feedback.AFTER_COMB,
    n_cells=60,
    n_asked=BLOCK_CELLS,
    trains="See the youngest and the oldest you take: up to 40 cells, nothing told until the end.",
)
DRILLS: tuple[Drill, ...] = (PICK_FROM_PATCH, TAKE_OR_LEAVE, FIND_YOUR_EDGES)


def drill_of(key: str) -> Drill:
    """Return the drill with this key; ValueError when there is none."""
    for drill in DRILLS:
        if drill.key == key:
            return drill
    msg = f"key must be one of {[drill.key for drill in DRILLS]}, got {key!r}"
    raise ValueError(msg)

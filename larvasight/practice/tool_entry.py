"""Where the tool goes in: behind the back of the curve, never against its open side.

How a larva is lifted is common practice, taught by people who graft; no study of it was found. A
flexible tip goes straight down behind the back, and its tongue slides under the body; a rigid hook
comes from the side, under the back. How near counts as right is our judgement.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry.beside import beside, inward_vectors, room_in_hexagon
from larvasight.geometry.facts import Fact, Label

Floats = NDArray[np.float64]

_JUDGED = "judgement: as near as a steady hand sets a tip under a loupe"
TOUCH = Fact(
    name="how far a tip may touch the edge of a body it is set down behind",
    value=0.1,
    unit="mm",
    label=Label.DERIVED,
    source=_JUDGED,
)
FLEXIBLE_REACH = Fact(
    name="how far behind a body a flexible tip may be set down",
    value=0.6,
    unit="mm",
    label=Label.DERIVED,
    source="judgement: less than a tongue is long, so that it still slides under the body",
)
RIGID_REACH = Fact(
    name="how far behind a body a rigid hook may be set down",
    value=0.4,
    unit="mm",
    label=Label.DERIVED,
    source="judgement: its hook is short, so it begins close behind the body",
)
FLEXIBLE_ROOM = Fact(
    name="room a flexible tip needs before the wall",
    value=0.12,
    unit="mm",
    label=Label.DERIVED,
    source="judgement: a thin tongue bends and slides down the wall",
)
RIGID_ROOM = Fact(
    name="room a rigid hook needs before the wall",
    value=0.3,
    unit="mm",
    label=Label.DERIVED,
    source="judgement: about the thickness of a bent wire or hook",
)
END_SHARE = Fact(
    name="share of a body at each end under which no tool goes",
    value=0.18,
    unit="share",
    label=Label.DERIVED,
    source="judgement: lifted near an end the body hangs over and turns",
)
LEAN = Fact(
    name="how far a hook's way may lean from straight under the back",
    value=60.0,
    unit="deg",
    label=Label.DERIVED,
    source="judgement: further aslant it pushes the body along and turns it",
)
WALL_HALF = Fact(
    name="from the middle of a cell's wall to its face, cocoons included",
    value=0.2,
    unit="mm",
    label=Label.DERIVED,
    source="judgement: new wax is about .1 mm, old brood comb up to .4 mm thick",
)
FACTS: tuple[Fact, ...] = (
    *(TOUCH, FLEXIBLE_REACH, RIGID_REACH, FLEXIBLE_ROOM, RIGID_ROOM),
    *(END_SHARE, LEAN, WALL_HALF),
)

# A curve is drawn and judged at so many places.
_ZONE_POINTS = 41


class EntryTool(StrEnum):
    """What the larva is lifted with."""

    FLEXIBLE = "flexible"
    RIGID = "rigid"


class Hand(StrEnum):
    """The hand that holds the tool."""

    RIGHT = "right"
    LEFT = "left"

    @property
    def other(self) -> "Hand":
        """The other hand."""
        return Hand.LEFT if self is Hand.RIGHT else Hand.RIGHT


class Landing(StrEnum):
    """Where a tip came down."""

    BEHIND = "behind"
    ON_BODY = "on-body"
    OPEN_SIDE = "open-side"
    AT_END = "at-end"
    ASLANT = "aslant"
    WALL = "wall"
    TOO_FAR = "too-far"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Floor:
    """What lies on the floor of one cell, mm about the floor's middle, x right and y down.

    Attributes
    ----------
    line_xy_mm : ndarray of shape (N, 2)
        The larva's line from tip to tip.
    width_mm : float
        Its greatest width.
    opening_xy_mm : tuple of float
        Middle of the rims as it is seen over the floor: what they hide no tool is set on.
    pitch_mm : float
        The cell's pitch.
    turn_deg : float
        How the comb's rows are turned.
    """

    line_xy_mm: Floats
    width_mm: float
    opening_xy_mm: tuple[float, float]
    pitch_mm: float
    turn_deg: float

    def room_mm(self, points_xy_mm: Floats) -> Floats:
        """Return how far points are from the wall, or from what the rim hides, shape (N,)."""
        apothem = self.pitch_mm / 2.0 - WALL_HALF.value
        at_floor = room_in_hexagon(points_xy_mm, apothem, self.turn_deg)
        seen = room_in_hexagon(points_xy_mm - np.array(self.opening_xy_mm), apothem, self.turn_deg)
        return np.minimum(at_floor, seen)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What a learner chose: tool, hand, where its tip comes down, and for a rigid one from where.

    ``from_deg`` is the side that the tool comes from, seen from its tip: 0 right, 90 below.
    """

    tool: EntryTool
    hand: Hand
    tip_xy_mm: tuple[float, float]
    from_deg: float | None = None

    def __post_init__(self) -> None:
        """Refuse a rigid tool that comes from nowhere, or from where the hand is not."""
        if self.tool is EntryTool.FLEXIBLE:
            return
        if self.from_deg is None or not can_come_from(self.hand, self.from_deg):
            msg = f"from_deg must be on the side of the {self.hand} hand, got {self.from_deg}"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What became of an entry; ``off_mm`` is from the edge of the body, below 0 on it."""

    landing: Landing
    off_mm: float

    @property
    def is_hit(self) -> bool:
        """Whether the tool would go under the larva."""
        return self.landing is Landing.BEHIND


def can_come_from(hand: Hand, from_deg: float) -> bool:
    """Return whether a hand can hold a rigid tool so: not across the cell from the other side."""
    across = math.cos(math.radians(from_deg))
    return (across if hand is Hand.RIGHT else -across) > -1e-9


def judge(entry: Entry, floor: Floor) -> Judged:
    """Return where a tool comes down.

    Parameters
    ----------
    entry : Entry
        What the learner chose.
    floor : Floor
        The larva and the walls about it.
    """
    found = beside(floor.line_xy_mm, entry.tip_xy_mm)
    off_mm = found.off - floor.width_mm / 2.0
    is_rigid = entry.tool is EntryTool.RIGID
    reach_mm = (RIGID_REACH if is_rigid else FLEXIBLE_REACH).value
    room_mm = (RIGID_ROOM if is_rigid else FLEXIBLE_ROOM).value
    landing = Landing.BEHIND
    if off_mm < -TOUCH.value:
        landing = Landing.ON_BODY
    elif not found.is_behind:
        landing = Landing.OPEN_SIDE
    elif floor.room_mm(np.array([entry.tip_xy_mm]))[0] < room_mm:
        landing = Landing.WALL
    elif not END_SHARE.value <= found.along_share <= 1.0 - END_SHARE.value:
        landing = Landing.AT_END
    elif off_mm > reach_mm:
        landing = Landing.TOO_FAR
    elif entry.from_deg is not None and is_rigid:
        landing = _landing_of_way(entry.from_deg, found.inward_xy)
    return Judged(landing=landing, off_mm=off_mm)


def good_zone(floor: Floor, tool: EntryTool) -> tuple[Floats, ...]:
    """Return where a tool's tip may come down, mm.

    Parameters
    ----------
    floor : Floor
        The larva and the walls about it.
    tool : EntryTool
        What lifts it.

    Returns
    -------
    tuple of ndarray of shape (M, 2)
        Outlines of the parts of the zone along the back; none where no part has room.
    """
    is_rigid = tool is EntryTool.RIGID
    reach_mm = (RIGID_REACH if is_rigid else FLEXIBLE_REACH).value
    room_mm = (RIGID_ROOM if is_rigid else FLEXIBLE_ROOM).value
    line, outward = _back(floor)
    near = floor.width_mm / 2.0 - TOUCH.value
    far = near + TOUCH.value + reach_mm
    depths = np.linspace(near, far, 25)
    places = line[:, None, :] + depths[None, :, None] * outward[:, None, :]
    is_free = floor.room_mm(places.reshape(-1, 2)).reshape(places.shape[:2]) >= room_mm
    # From the body outward as far as there is room without a break.
    n_free = np.where(is_free.all(axis=1), len(depths), is_free.argmin(axis=1))
    parts: list[Floats] = []
    run: list[int] = []
    for k in range(len(line) + 1):
        if k < len(line) and n_free[k] > 1:
            run.append(k)
            continue
        if len(run) > 1:
            outer = np.array([places[i, n_free[i] - 1] for i in run])
            parts.append(np.vstack([places[run, 0], outer[::-1]]))
        run = []
    return tuple(parts)


def room_behind_mm(floor: Floor) -> float:
    """Return the room from the back of a larva to the wall, where it is widest."""
    line, outward = _back(floor)
    edge = line + floor.width_mm / 2.0 * outward
    return float(floor.room_mm(edge).max())


def has_side_for(floor: Floor, hand: Hand) -> bool:
    """Return whether a rigid tool in this hand can come under the back of a larva."""
    if not good_zone(floor, EntryTool.RIGID):
        return False
    _, outward = _back(floor)
    x, y = outward[len(outward) // 2]
    return can_come_from(hand, math.degrees(math.atan2(float(y), float(x))))


def _back(floor: Floor) -> tuple[Floats, Floats]:
    """Return the part of a larva's line under which tools go, and the way out from there."""
    line = floor.line_xy_mm
    steps = np.hypot(*np.diff(line, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)]) / steps.sum()
    inward = inward_vectors(line)
    wanted = np.linspace(END_SHARE.value, 1.0 - END_SHARE.value, _ZONE_POINTS)
    places = np.column_stack([np.interp(wanted, along, line[:, k]) for k in (0, 1)])
    outward = -np.column_stack([np.interp(wanted, along, inward[:, k]) for k in (0, 1)])
    return places, outward / np.hypot(*outward.T)[:, None]


def _landing_of_way(from_deg: float, inward_xy: tuple[float, float]) -> Landing:
    """Return whether a hook that comes from a side goes under the back."""
    way_rad = math.radians(from_deg)
    under = -(math.cos(way_rad) * inward_xy[0] + math.sin(way_rad) * inward_xy[1])
    if under >= math.cos(math.radians(LEAN.value)) - 1e-9:
        return Landing.BEHIND
    return Landing.ASLANT if under > -1e-9 else Landing.OPEN_SIDE

"""Where the tool goes in: which cell comes next, and every entry kept."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid4

import numpy as np
from numpy.typing import NDArray

from larvasight import __version__
from larvasight.errors import AssetMissingError
from larvasight.geometry import LARVA_DEPTH_MM, lattice_vectors
from larvasight.grading import Limits
from larvasight.practice import Answer, Given, ShownCell
from larvasight.practice.drills import TOOL_GOES_IN
from larvasight.practice.tool_entry import (
    FLEXIBLE_ROOM,
    Entry,
    Floor,
    Hand,
    Judged,
    Landing,
    judge,
    room_behind_mm,
)
from larvasight.practice.tool_steps import ToolCourse, ToolStep, course_after
from larvasight.render.stamping import Canvas, Stamp
from larvasight.render.tiles import Tile, TileLibrary
from larvasight.sheet import Content, Flag, Jelly

if TYPE_CHECKING:
    from larvasight.desk.keeping import Keeper
    from larvasight.records.store import Store
    from larvasight.records.types import KeptRound

# A body bent less has no back that anybody could tell.
_CURL_LEAST_DEG = 30.0
_NEARLY_STRAIGHT_DEG = 105.0
_WIDE_DEG = (125.0, 235.0)
_NEAR_WALL_MM = 1.15
_ROUNDS_READ = 120
# Width and height of the picture about a cell, and how many cells lie out to its corners.
_PICTURE_PITCHES, _RINGS = (4.2, 2.2), 4
_STEP, _OWN_HAND = "step", "own_hand"

ANSWERS: dict[Landing, Answer] = {
    Landing.BEHIND: Answer.HIT,
    Landing.ON_BODY: Answer.OPEN_SIDE,
    Landing.OPEN_SIDE: Answer.OPEN_SIDE,
    Landing.AT_END: Answer.OPEN_SIDE,
    Landing.ASLANT: Answer.OPEN_SIDE,
    Landing.WALL: Answer.WALL,
    Landing.TOO_FAR: Answer.WALL,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToolCell:
    """One cell to set a tool in: its tile, how it is turned, and what lies on its floor."""

    tile: Tile
    turn_deg: float
    floor: Floor

    @property
    def px_per_mm(self) -> float:
        """Scale of the tile's picture."""
        return self.tile.pitch_px / self.tile.pitch_mm

    @property
    def is_dry(self) -> bool:
        """Whether hardly any food lies in the cell."""
        return self.tile.jelly in (Jelly.NONE, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolStanding:
    """How far a learner has come, and which hand is the own one."""

    course: ToolCourse
    own_hand: Hand


def standing_of(store: "Store", learner_id: UUID) -> ToolStanding:
    """Return how far a learner has come, from the entries that are kept.

    Raises
    ------
    LarvasightError
        If the records cannot be read.
    """
    kept = store.kept_rounds(learner_id, [TOOL_GOES_IN.key], n_latest=_ROUNDS_READ)
    entries = [entry for one in kept if (entry := _entry_of(one)) is not None]
    own = next((one.recipe.get(_OWN_HAND) for one in reversed(kept)), None)
    return ToolStanding(
        course=course_after(entries), own_hand=Hand.LEFT if own == Hand.LEFT else Hand.RIGHT
    )


def tool_cell(tile: Tile, turn_deg: float) -> ToolCell:
    """Return a tile turned to be set a tool in.

    Raises
    ------
    ValueError
        If the tile holds no larva.
    """
    if tile.midline_xy_px is None or tile.width_mm is None:
        msg = f"tile must hold a larva, got {tile.id} with {tile.content}"
        raise ValueError(msg)
    turn_rad = math.radians(turn_deg)
    cos, sin = math.cos(turn_rad), math.sin(turn_rad)
    turn = np.array([[cos, sin], [-sin, cos]])  # points are rows
    opening = np.array(tile.slope_xy) * LARVA_DEPTH_MM
    line = np.array(tile.midline_xy_px) * tile.pitch_mm / tile.pitch_px + opening
    x, y = (float(v) for v in opening @ turn)
    floor = Floor(
        line_xy_mm=line @ turn,
        width_mm=tile.width_mm,
        opening_xy_mm=(x, y),
        pitch_mm=tile.pitch_mm,
        turn_deg=turn_deg,
    )
    return ToolCell(tile=tile, turn_deg=turn_deg, floor=floor)


def tool_picture(
    library: TileLibrary, cell: ToolCell, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Compose a cell as it is turned, with neighbours of the same comb about it.

    Parameters
    ----------
    library : TileLibrary
        Where the neighbours come from.
    cell : ToolCell
        What lies in the middle of the picture.
    rng : numpy.random.Generator
        Chooses the neighbours.

    Returns
    -------
    ndarray of shape (H, W, 3), uint8
        RGB; H and W are odd, and the cell's axis crosses the rims at the middle pixel.

    Raises
    ------
    AssetMissingError
        If a picture is missing or damaged.
    """
    tile = cell.tile
    stamp = Stamp(tile.side_px, 1.0, cell.turn_deg, tile.pitch_px)
    width_px, height_px = (2 * round(share * tile.pitch_px / 2.0) + 1 for share in _PICTURE_PITCHES)
    middle = np.array([(width_px - 1) / 2.0, (height_px - 1) / 2.0])
    basis = lattice_vectors(tile.pitch_px, cell.turn_deg)
    room = middle + tile.pitch_px
    canvas = Canvas((width_px, height_px))
    others = library.of(tile.setting)
    for q, r in np.ndindex(2 * _RINGS + 1, 2 * _RINGS + 1):
        place = (q - _RINGS, r - _RINGS)
        away = np.array(place, dtype=np.float64) @ basis
        if (np.abs(away) < room).all():
            laid = tile if place == (0, 0) else others[int(rng.integers(len(others)))]
            canvas.lay(stamp, library.pixels(laid), middle + away)
    return canvas.picture()


class ToolCells:
    """Cells of a library in which a tool can be set under a larva worth lifting.

    Parameters
    ----------
    library : TileLibrary
        Where they come from.
    limits : Limits
        The ages that are wanted.

    Raises
    ------
    AssetMissingError
        If no tile shows such a larva.
    """

    def __init__(self, library: TileLibrary, limits: Limits) -> None:
        self._rooms = {
            tile: room_mm
            for setting in library.settings
            for tile in library.of(setting)
            if _is_wanted(tile, limits)
            and (room_mm := room_behind_mm(tool_cell(tile, 0.0).floor)) > FLEXIBLE_ROOM.value
        }
        if not self._rooms:
            msg = "No picture of a larva that can be lifted is there; install larvasight again."
            raise AssetMissingError(msg)

    def of(self, step: ToolStep) -> list[Tile]:
        """Return the tiles that are as a step wants them."""
        return [tile for tile, room_mm in self._rooms.items() if _is_of(tile, room_mm, step)]

    def choose(
        self, step: ToolStep, rng: np.random.Generator, seen: frozenset[str] = frozenset()
    ) -> ToolCell:
        """Choose a cell for a step, turned by chance; one not seen before while there is one."""
        fitting = self.of(step) or list(self._rooms)
        fresh = [tile for tile in fitting if tile.id not in seen] or fitting
        return tool_cell(fresh[int(rng.integers(len(fresh)))], float(rng.uniform(0.0, 360.0)))


class ToolBout:
    """Cells set before one learner one after the other, every entry kept before it is told.

    Parameters
    ----------
    keeper : Keeper
        Stores what happens.
    learner_id : UUID
        Who practises.
    limits : Limits
        The teacher's spans now.
    now : callable
        The clock, UTC.
    standing : ToolStanding
        How far the learner has come.
    failed : callable, optional
        Gets one plain sentence when something is given up by the keeper.
    """

    def __init__(
        self,
        keeper: "Keeper",
        *,
        learner_id: UUID,
        limits: Limits,
        now: Callable[[], datetime],
        standing: ToolStanding,
        failed: Callable[[str], None] | None = None,
    ) -> None:
        self.limits = limits
        self.course = standing.course
        self.own_hand = standing.own_hand
        self.judged: list[Judged] = []
        self.seen: frozenset[str] = frozenset()
        self.cell: ToolCell | None = None
        self._keeper, self._learner_id, self._now, self._failed = keeper, learner_id, now, failed
        self._shown: tuple[UUID, UUID] | None = None
        self._since = now()

    @property
    def is_open(self) -> bool:
        """Whether a cell waits for its entry."""
        return self._shown is not None

    @property
    def n_hits(self) -> int:
        """How many entries were hits."""
        return sum(one.is_hit for one in self.judged)

    def show(self, cell: ToolCell) -> None:
        """Keep that a cell is shown; the time to its entry runs from now."""
        from larvasight.records.types import ShownRound

        self.put_away()
        round_id, shown = uuid4(), _shown_cell(cell.tile)
        recipe: dict[str, Any] = {
            "drawn_by": __version__,
            "tiles": [cell.tile.id],
            "turn_deg": cell.turn_deg,
            _STEP: int(self.course.step),
            _OWN_HAND: self.own_hand.value,
        }
        self.cell, self._shown = cell, (round_id, shown.id)
        self.seen |= {cell.tile.id}
        self._since = self._now()
        kept = ShownRound(
            id=round_id,
            learner_id=self._learner_id,
            drill=TOOL_GOES_IN,
            cells=(shown,),
            limits=self.limits,
            recipe=recipe,
            kind="drawn",
            shown_at_utc=self._since,
        )
        self._keeper.hand(lambda store: store.show_round(kept), None, self._failed)

    def enter(self, entry: Entry, stored: Callable[[Judged], None]) -> None:
        """Set the tool; ``stored`` gets what became of it once that is kept.

        Raises
        ------
        ValueError
            If no cell waits for its entry.
        """
        if self.cell is None or self._shown is None:
            msg = "enter needs a cell that waits for its entry"
            raise ValueError(msg)
        now = self._now()
        round_id, cell_id = self._shown
        judged = judge(entry, self.cell.floor)
        given = Given(
            cell_id=cell_id,
            answer=ANSWERS[judged.landing],
            response_ms=max(0, round((now - self._since).total_seconds() * 1000.0)),
            is_final=True,
        )
        self._shown = None
        self.judged.append(judged)
        self.course = self.course.after(is_hit=judged.is_hit)
        self._keeper.hand(
            lambda store: store.end_round(round_id, (given,), now=now),
            lambda: stored(judged),
            self._failed,
        )

    def put_away(self) -> None:
        """End a cell that waits without an entry."""
        if self._shown is not None:
            round_id, now = self._shown[0], self._now()
            self._shown = None
            self._keeper.hand(
                lambda store: store.end_round(round_id, (), now=now), None, self._failed
            )


def _entry_of(kept: "KeptRound") -> tuple[int, bool] | None:
    step = kept.recipe.get(_STEP)
    answer = kept.answers[0]
    if type(step) is not int or not 0 <= step < len(ToolStep) or answer is None:
        return None
    return step, answer is Answer.HIT


def _shown_cell(tile: Tile) -> ShownCell:
    return ShownCell(
        id=uuid4(),
        row=0,
        col=0,
        content=tile.content,
        age_h=tile.age_h,
        looks_age_h=tile.looks_age_h,
        length_mm=tile.length_mm,
        curl_deg=tile.curl_deg,
        jelly=tile.jelly,
        tile_id=tile.id,
    )


def _is_wanted(tile: Tile, limits: Limits) -> bool:
    if tile.content is not Content.LARVA or tile.age_h is None or tile.curl_deg is None:
        return False
    if Flag.HIDDEN_BY_WALL in tile.flags or tile.curl_deg < _CURL_LEAST_DEG:
        return False
    return limits.young_h <= tile.age_h <= limits.old_h


def _is_of(tile: Tile, room_mm: float, step: ToolStep) -> bool:
    """Return whether a tile is such as a step wants."""
    curl_deg = tile.curl_deg or 0.0
    light, _, focus = tile.setting.partition("-")
    is_clear = light != "dim" and not focus.endswith("rim")
    is_free = room_mm > _NEAR_WALL_MM
    if step is ToolStep.WIDE_CURVES:
        return is_clear and is_free and _WIDE_DEG[0] <= curl_deg <= _WIDE_DEG[1]
    if step is ToolStep.NEARLY_STRAIGHT:
        return is_clear and is_free and curl_deg <= _NEARLY_STRAIGHT_DEG
    if step is ToolStep.NEAR_A_WALL:
        return not is_free
    return step is ToolStep.OTHER_HAND or not is_clear

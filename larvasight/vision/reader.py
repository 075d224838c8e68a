"""Read the cells of one picture: contents, bodies, millimetres, flags."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from larvasight.geometry import hexagon_corners
from larvasight.sheet import Cell, Content, Flag, Jelly, PointsXY
from larvasight.vision.lattice import FoundCell
from larvasight.vision.looks import FIRST_LOOK, MORE_LOOKS, SECOND_LOOK, Look, look_at, mean_of
from larvasight.vision.measures import (
    TIMES_AS_LARGE,
    BodyMeasure,
    enlarged,
    largest_part,
    measure_bodies,
    outline_of,
)
from larvasight.vision.parsed import CONTENT_CLASSES, JELLY_CLASSES, CellParser, ParsedCell
from larvasight.vision.rectify import (
    CROP_MIDDLE_PX,
    CROP_PITCH_PX,
    CropFrame,
    Pyramid,
    crop_frame,
)
from larvasight.vision.scale import ScaleGuess
from larvasight.vision.sight import Sight
from larvasight.vision.trust import (
    PITCH_MEASURE_LEAST_PX,
    PITCH_READ_LEAST_PX,
    VISIBLE_LEAST,
    Trust,
    is_burnt,
    less_sure,
    picture_flags,
    signs_of,
    trust_in,
)

# Contents below this chance are "unclear"; below the second they are looked at again. Cells whose
# place is surer than the third are read.
_CONTENT_SURE = 0.5
_CONTENT_PLAIN = 0.9
_PLACE_SURE = 0.005
# On a comb eggs outnumber larvae so small that they look like eggs; in training they did not.
_MORE_EGGS = 1.7
# What needs no rim around it to be seen; anything else is "unclear" on a doubtful place.
_RIMLESS = frozenset({Content.CAPPED, Content.COVERED, Content.UNCLEAR})
_PLACE_SURE_OF_OPEN = 0.3
# A blurred cell looks empty when it holds an egg or a young larva.
_HIDDEN_BY_BLUR = frozenset({Content.EMPTY, Content.EGG})
_EGG_CLASS = CONTENT_CLASSES.index(Content.EGG)
_LARVA_CLASS = CONTENT_CLASSES.index(Content.LARVA)
# A larva this plain is told even where no body can be found, or one that cannot be measured.
_LARVA_PLAIN = 0.92
_LARVA_SEEN = 0.75
# The opening inside the rims, as a share of the pitch.
_OPENING_SHARE = 0.9
# What a wall can hide.
_ON_THE_FLOOR = frozenset({Content.EMPTY, Content.EGG, Content.STORES})
# So unsure is at least the length of a body that was shaken, or of a disc that is burnt out.
_SHAKEN_LENGTH_SHARE = 0.15
_BURNT_LENGTH_SHARE = 0.3
# Cells are read so many at once.
_BLOCK = 128
# What cannot be told apart with few px to the cell: an egg or a young larva is a few px then.
_NEEDS_PX = frozenset({Content.EMPTY, Content.EGG, Content.LARVA})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """One rectified cell with its place in the picture and all that the looks at it said."""

    cell: FoundCell
    frame: CropFrame
    crop: NDArray[np.uint8]
    looks: tuple[ParsedCell, ...]

    @property
    def pitch_px(self) -> float:
        return _pitch_px(self.cell)

    @property
    def is_small(self) -> bool:
        return self.pitch_px < PITCH_MEASURE_LEAST_PX

    @property
    def chances(self) -> NDArray[np.float64]:
        """Chance of each of ``CONTENT_CLASSES`` by all looks together, shape (7,)."""
        mean = np.array([look.content for look in self.looks], dtype=np.float64).mean(axis=0)
        mean[_EGG_CLASS] *= _MORE_EGGS
        weighed: NDArray[np.float64] = mean / mean.sum()
        return weighed

    @property
    def content(self) -> Content:
        chances = self.chances
        best = int(np.argmax(chances))
        if chances[best] < _CONTENT_SURE:
            return Content.UNCLEAR
        content = CONTENT_CLASSES[best]
        if self.is_small and content in _NEEDS_PX:
            return Content.UNCLEAR
        if self.cell.confidence < _PLACE_SURE_OF_OPEN and content not in _RIMLESS:
            return Content.UNCLEAR
        return content

    @property
    def jelly(self) -> Jelly:
        return JELLY_CLASSES[int(np.argmax(self.looks[0].jelly))]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sized:
    """A body measured on the mean of all looks, and how far it can be trusted."""

    body: BodyMeasure
    trust: Trust


class CellReader:
    """Reads the cells of one picture.

    Parameters
    ----------
    pyramid : Pyramid
        The picture.
    parser : CellParser
        Reads rectified cells.
    guess : ScaleGuess
        Cell size and camera distance.
    sight : Sight
        How the picture was taken.
    """

    def __init__(
        self, pyramid: Pyramid, parser: CellParser, guess: ScaleGuess, sight: Sight
    ) -> None:
        self._size_px = pyramid.size_px
        self._pyramid = pyramid
        self._parser = parser
        self._guess = guess
        self._sight = sight

    def read(self, found: Sequence[FoundCell]) -> list[Cell]:
        """Return one measured cell for each found one, in the same order.

        A block after the other: the maps of all looks at thousands of cells are many.
        """
        blocks = range(0, len(found), _BLOCK)
        return [cell for first in blocks for cell in self._read(found[first : first + _BLOCK])]

    def _read(self, found: Sequence[FoundCell]) -> list[Cell]:
        readable = [i for i, cell in enumerate(found) if _is_readable(cell)]
        shown = dict(zip(readable, self._show([found[i] for i in readable]), strict=True))
        doubtful = [i for i, one in shown.items() if one.chances.max() < _CONTENT_PLAIN]
        for look in (SECOND_LOOK, *MORE_LOOKS):
            self._look(shown, doubtful, look)
        larvae = [i for i, one in shown.items() if one.content is Content.LARVA]
        self._look(shown, [i for i in larvae if i not in doubtful], SECOND_LOOK)
        known: dict[int, BodyMeasure | None] = {}
        sized = dict(zip(larvae, self._sizes([shown[i] for i in larvae], known), strict=True))
        unsure = [i for i, one in sized.items() if one is None or one.trust.is_uncertain]
        for look in MORE_LOOKS:
            self._look(shown, [i for i in unsure if i not in doubtful], look)
        sized.update(zip(unsure, self._sizes([shown[i] for i in unsure], known), strict=True))
        return [
            self._cell(shown[i], sized.get(i)) if i in shown else self._unread(cell)
            for i, cell in enumerate(found)
        ]

    def _show(self, cells: list[FoundCell]) -> list[_Shown]:
        frames = [crop_frame(cell.centre_xy_px, cell.steps_xy_px) for cell in cells]
        crops = [self._pyramid.crop(frame) for frame in frames]
        shown = {
            i: _Shown(cell=cell, frame=frame, crop=crop, looks=())
            for i, (cell, frame, crop) in enumerate(zip(cells, frames, crops, strict=True))
        }
        self._look(shown, list(shown), FIRST_LOOK)
        return list(shown.values())

    def _sizes(
        self, shown: Sequence[_Shown], known: dict[int, BodyMeasure | None]
    ) -> list[_Sized | None]:
        """Measure bodies, all at once; ``known`` keeps those of single looks by the look's id."""
        fresh = [look for one in shown for look in one.looks if id(look) not in known]
        bodies = measure_bodies([*(mean_of(one.looks) for one in shown), *fresh])
        known.update(zip(map(id, fresh), bodies[len(shown) :], strict=True))
        return [self._sized(one, body, known) for one, body in zip(shown, bodies, strict=False)]

    def _sized(
        self, shown: _Shown, body: BodyMeasure | None, known: dict[int, BodyMeasure | None]
    ) -> _Sized | None:
        if body is None:
            return None
        single = [known[id(look)] for look in shown.looks]
        signs = signs_of(body, single, px_per_crop_px=shown.pitch_px / CROP_PITCH_PX)
        trust = trust_in(body, signs)
        # Looks at what is shaken or burnt out agree on what is not there.
        if self._sight.is_shaken:
            trust = less_sure(trust, _SHAKEN_LENGTH_SHARE)
        if body.is_closed and is_burnt(shown.crop, shown.looks[0]):
            trust = less_sure(trust, _BURNT_LENGTH_SHARE)
        return _Sized(body=enlarged(body, TIMES_AS_LARGE), trust=trust)

    def _look(self, shown: dict[int, _Shown], which: list[int], look: Look) -> None:
        # In a small cell nothing is measured or outlined.
        for is_small in (False, True):
            part = [i for i in which if shown[i].is_small == is_small]
            crops = [shown[i].crop for i in part]
            answers = look_at(self._parser, crops, look, only_contents=is_small)
            for i, answer in zip(part, answers, strict=True):
                shown[i] = replace(shown[i], looks=(*shown[i].looks, answer))

    def _cell(self, shown: _Shown, sized: _Sized | None) -> Cell:
        content = shown.content
        if content is Content.LARVA:
            return self._larva(shown, sized)
        if content in _HIDDEN_BY_BLUR and Flag.BLURRED in picture_flags(shown.crop, shown.looks[0]):
            content = Content.UNCLEAR
        why = _why_unclear(shown) if content is Content.UNCLEAR else []
        if content in _ON_THE_FLOOR and self._sight.is_far_off_axis(shown.cell.centre_xy_px):
            content, why = Content.UNCLEAR, [Flag.HIDDEN_BY_WALL]
        base = self._base(shown, content, why)
        if content is Content.EGG:
            return replace(base, outline_xy_px=_egg_outline(shown), jelly=shown.jelly)
        return replace(base, jelly=shown.jelly) if content is Content.EMPTY else base

    def _larva(self, shown: _Shown, sized: _Sized | None) -> Cell:
        if sized is None or sized.trust.is_hopeless:
            # Nectar and glare, too, look like a larva whose body cannot be found.
            least = _LARVA_PLAIN if sized is None else _LARVA_SEEN
            is_plain = shown.chances[_LARVA_CLASS] >= least
            flags = [Flag.OUTLINE_UNCERTAIN, *picture_flags(shown.crop, shown.looks[0])]
            return self._base(shown, Content.LARVA if is_plain else Content.UNCLEAR, flags)
        outline = shown.frame.to_picture(sized.body.outline_xy_px)
        if self._is_cut(outline, margin_px=1.0):
            base = self._base(shown, Content.LARVA, [])
            return replace(base, flags=(Flag.CUT_BY_FRAME,), jelly=shown.jelly)
        return self._measured(shown, sized)

    def _measured(self, shown: _Shown, sized: _Sized) -> Cell:
        body, sure = sized.body, sized.trust
        outline = _points(shown.frame, body.outline_xy_px)
        is_hidden = body.visible_share < VISIBLE_LEAST
        flags = [Flag.HIDDEN_BY_WALL] if is_hidden else []
        flags += [Flag.CLOSED] if body.is_closed and not is_hidden else []
        if sure.is_uncertain and not is_hidden:
            flags += [Flag.OUTLINE_UNCERTAIN, *self._why_uncertain(shown)]
        seen = replace(
            self._base(shown, Content.LARVA, flags),
            visible_share=body.visible_share,
            jelly=shown.jelly,
            outline_xy_px=outline,
        )
        if is_hidden:
            return seen
        mm_per_px = self._guess.pitch_mm / CROP_PITCH_PX * self._guess.length_factor()
        length_mm = body.length_px * mm_per_px
        return replace(
            seen,
            length_mm=length_mm,
            length_mm_sd=length_mm * math.hypot(sure.length_share, self._guess.length_sd_share()),
            width_mm=body.width_px * mm_per_px,
            area_mm2=body.area_px2 * mm_per_px**2,
            curl_deg=None if body.is_closed else body.curl_deg,
            curl_deg_sd=None if body.is_closed else sure.curl_deg,
            midline_xy_px=_points(shown.frame, body.midline_xy_px),
        )

    def _why_uncertain(self, shown: _Shown) -> list[Flag]:
        flags = picture_flags(shown.crop, shown.looks[0])
        if self._sight.is_shaken and Flag.BLURRED not in flags:
            flags.insert(0, Flag.BLURRED)
        return flags

    def _base(self, shown: _Shown, content: Content, flags: list[Flag]) -> Cell:
        return self._place(shown.cell, shown.frame, content, flags)

    def _unread(self, cell: FoundCell) -> Cell:
        flags = [Flag.TOO_SMALL] if _pitch_px(cell) < PITCH_READ_LEAST_PX else []
        frame = crop_frame(cell.centre_xy_px, cell.steps_xy_px)
        return self._place(cell, frame, Content.UNCLEAR, flags)

    def _place(
        self, cell: FoundCell, frame: CropFrame, content: Content, flags: list[Flag]
    ) -> Cell:
        corners = frame.to_picture(hexagon_corners(CROP_PITCH_PX * _OPENING_SHARE) + CROP_MIDDLE_PX)
        cut = [Flag.CUT_BY_FRAME] if self._is_cut(corners) else []
        return Cell(
            row=cell.row,
            col=cell.col,
            centre_xy_px=cell.centre_xy_px,
            px_per_mm=_pitch_px(cell) / self._guess.pitch_mm,
            residual_px=cell.residual_px,
            confidence=cell.confidence,
            content=content,
            flags=(*flags, *cut),
        )

    def _is_cut(self, points_xy: NDArray[np.float64], margin_px: float = 0.0) -> bool:
        limit = np.array(self._size_px) - 1.0 - margin_px
        return bool((points_xy < margin_px).any() or (points_xy > limit).any())


def _egg_outline(shown: _Shown) -> PointsXY | None:
    return _points(shown.frame, outline_of(largest_part(mean_of(shown.looks).egg)))


def _why_unclear(shown: _Shown) -> list[Flag]:
    if shown.is_small:
        return [Flag.TOO_SMALL]
    return picture_flags(shown.crop, shown.looks[0])


def _is_readable(cell: FoundCell) -> bool:
    return cell.confidence >= _PLACE_SURE and _pitch_px(cell) >= PITCH_READ_LEAST_PX


def _pitch_px(cell: FoundCell) -> float:
    (x0, y0), (x1, y1) = cell.steps_xy_px
    return math.sqrt(abs(x0 * y1 - y0 * x1) * 2.0 / math.sqrt(3.0))


def _points(frame: CropFrame, points_xy: NDArray[np.float64]) -> PointsXY | None:
    if len(points_xy) == 0:
        return None
    return tuple((x, y) for x, y in np.round(frame.to_picture(points_xy), 2).tolist())

"""From a photo to a sheet of measured cells: lattice, contents, bodies, millimetres."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_between, require_positive
from larvasight.geometry import (
    LARVA_DEPTH_MM,
    PITCH_DEFAULT_MM,
    depth_scale,
    hexagon_corners,
)
from larvasight.sheet import (
    Cell,
    Content,
    Flag,
    Jelly,
    LatticeInfo,
    PhotoInfo,
    PointsXY,
    Scale,
    ScaleSource,
    Sheet,
)
from larvasight.vision import trust
from larvasight.vision.lattice import FoundCell, FoundLattice, find_lattice
from larvasight.vision.measures import BodyMeasure, largest_part, measure_body, outline_of
from larvasight.vision.parsed import CONTENT_CLASSES, JELLY_CLASSES, CellParser, ParsedCell
from larvasight.vision.photo import Photo
from larvasight.vision.rectify import CROP_MIDDLE_PX, CROP_PITCH_PX, CropFrame, Pyramid, crop_frame

# Assumed camera distance where neither photo nor person tells it, and its spread.
DISTANCE_ASSUMED_MM = 200.0
DISTANCE_ASSUMED_SD_MM = 80.0
# A cell size that nobody measured may be off by this share; a measured one by less: derived
# from 5.2-5.4 mm for European worker comb.
_PITCH_ASSUMED_SD_SHARE = 0.015
_PITCH_GIVEN_SD_SHARE = 0.005
# Contents below this chance are "unclear"; cells whose place is below this are left unread.
_CONTENT_SURE = 0.6
_PLACE_SURE = 0.3
# Larvae are measured up to this angle from the cell's axis.
_TILT_MOST_DEG = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleGuess:
    """How px become mm: cell size, camera distance (None assumes it) and where both are from."""

    pitch_mm: float = PITCH_DEFAULT_MM
    distance_mm: float | None = None
    source: ScaleSource = ScaleSource.COMB

    def __post_init__(self) -> None:
        """Refuse sizes no comb or camera has."""
        require_between("pitch_mm", self.pitch_mm, 4.0, 7.5)
        if self.distance_mm is not None:
            require_positive("distance_mm", self.distance_mm)

    def length_factor(self) -> float:
        """Return what a length in the rim plane is multiplied with at the larva's depth."""
        return depth_scale(self.distance_mm or DISTANCE_ASSUMED_MM)

    def length_sd_share(self) -> float:
        """Return the share by which scale alone may be off."""
        pitch = (
            _PITCH_ASSUMED_SD_SHARE if self.source is ScaleSource.COMB else _PITCH_GIVEN_SD_SHARE
        )
        if self.distance_mm is not None:
            return pitch
        d_mm = DISTANCE_ASSUMED_MM
        depth = LARVA_DEPTH_MM / (d_mm + LARVA_DEPTH_MM) * DISTANCE_ASSUMED_SD_MM / d_mm
        return math.hypot(pitch, depth)


def measure_photo(photo: Photo, parser: CellParser, guess: ScaleGuess | None = None) -> Sheet:
    """Find and measure every cell of a photo.

    Parameters
    ----------
    photo : Photo
        The upright picture; its own camera distance is used where ``guess`` has none.
    parser : CellParser
        Reads rectified cells.
    guess : ScaleGuess, optional
        Cell size and camera distance.

    Returns
    -------
    Sheet
        Measured sheet without ages and grades; what could not be measured is None.

    Raises
    ------
    NoCombError
        If no pattern of cells is found.
    """
    guess = guess or ScaleGuess()
    if guess.distance_mm is None and photo.distance_mm is not None:
        guess = ScaleGuess(
            pitch_mm=guess.pitch_mm, distance_mm=photo.distance_mm, source=guess.source
        )
    lattice = find_lattice(photo.pixels)
    reader = _CellReader(photo.pixels, parser, guess)
    cells = reader.read(lattice.cells)
    flags = [Flag.DISTANCE_ASSUMED] if guess.distance_mm is None else []
    if lattice.tilt_deg > _TILT_MOST_DEG:
        flags.append(Flag.TILTED)
    return Sheet(
        truth=False,
        photo=PhotoInfo(
            name=photo.name, width_px=photo.width_px, height_px=photo.height_px, sha256=photo.sha256
        ),
        scale=Scale(
            pitch_px=lattice.pitch_px,
            pitch_mm=guess.pitch_mm,
            px_per_mm=lattice.pitch_px / guess.pitch_mm,
            distance_mm=guess.distance_mm,
            source=guess.source,
        ),
        lattice=_lattice_info(lattice, flags),
        cells=tuple(cells),
    )


def _lattice_info(lattice: FoundLattice, flags: list[Flag]) -> LatticeInfo:
    return LatticeInfo(
        row_angle_deg=lattice.row_angle_deg,
        n_cells=len(lattice.cells),
        residual_px=lattice.residual_px,
        flags=tuple(flags),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """One rectified cell with its place and what the parser says."""

    frame: CropFrame
    crop: NDArray[np.uint8]
    parsed: ParsedCell


class _CellReader:
    """Reads the cells of one picture."""

    def __init__(self, pixels: NDArray[np.uint8], parser: CellParser, guess: ScaleGuess) -> None:
        self._size_px = (pixels.shape[1], pixels.shape[0])
        self._pyramid = Pyramid(pixels)
        self._parser = parser
        self._guess = guess

    def read(self, found: tuple[FoundCell, ...]) -> list[Cell]:
        """Return one measured cell for each found one, in the same order."""
        readable = [i for i, cell in enumerate(found) if self._is_readable(cell)]
        frames = [crop_frame(found[i].centre_xy_px, found[i].steps_xy_px) for i in readable]
        crops = [self._pyramid.crop(frame) for frame in frames]
        looks = {
            i: _Look(frame=frame, crop=crop, parsed=parsed)
            for i, frame, crop, parsed in zip(
                readable, frames, crops, self._parse(crops), strict=True
            )
        }
        larvae = [i for i, look in looks.items() if _content(look.parsed) is Content.LARVA]
        # The cell mirrored is the same cell: how far the answers part tells how sure they are.
        second = self._parse([np.ascontiguousarray(looks[i].crop[::-1]) for i in larvae])
        mirrored = {i: _upright(parsed) for i, parsed in zip(larvae, second, strict=True)}
        cells = []
        for i, cell in enumerate(found):
            if i in mirrored:
                cells.append(self._larva(cell, looks[i], mirrored[i]))
            else:
                cells.append(self._other(cell, looks[i]) if i in looks else self._unread(cell))
        return cells

    def _parse(self, crops: list[NDArray[np.uint8]]) -> list[ParsedCell]:
        return self._parser.parse(np.stack(crops)) if crops else []

    def _is_readable(self, cell: FoundCell) -> bool:
        return cell.confidence >= _PLACE_SURE and self._pitch_px(cell) >= trust.PITCH_READ_LEAST_PX

    def _pitch_px(self, cell: FoundCell) -> float:
        return math.sqrt(abs(float(np.linalg.det(cell.steps_xy_px))) * 2.0 / math.sqrt(3.0))

    def _is_cut(self, points_xy: NDArray[np.float64], margin_px: float = 0.0) -> bool:
        limit = np.array(self._size_px) - 1.0 - margin_px
        return bool((points_xy < margin_px).any() or (points_xy > limit).any())

    def _base(self, cell: FoundCell, frame: CropFrame, content: Content, flags: list[Flag]) -> Cell:
        corners = frame.to_picture(hexagon_corners(CROP_PITCH_PX) + CROP_MIDDLE_PX)
        cut = [Flag.CUT_BY_FRAME] if self._is_cut(corners) else []
        return Cell(
            row=cell.row,
            col=cell.col,
            centre_xy_px=cell.centre_xy_px,
            px_per_mm=self._pitch_px(cell) / self._guess.pitch_mm,
            residual_px=cell.residual_px,
            confidence=cell.confidence,
            content=content,
            flags=(*flags, *cut),
        )

    def _unread(self, cell: FoundCell) -> Cell:
        flags = [Flag.TOO_SMALL] if self._pitch_px(cell) < trust.PITCH_READ_LEAST_PX else []
        frame = crop_frame(cell.centre_xy_px, cell.steps_xy_px)
        return self._base(cell, frame, Content.UNCLEAR, flags)

    def _other(self, cell: FoundCell, look: _Look) -> Cell:
        content = _content(look.parsed)
        flags = trust.picture_flags(look.crop, look.parsed) if content is Content.UNCLEAR else []
        base = self._base(cell, look.frame, content, flags)
        if content is Content.EGG:
            outline = outline_of(largest_part(look.parsed.egg))
            return replace(
                base, outline_xy_px=_points(look.frame, outline), jelly=_jelly(look.parsed)
            )
        if content is Content.EMPTY:
            return replace(base, jelly=_jelly(look.parsed))
        return base

    def _larva(self, cell: FoundCell, look: _Look, mirrored: ParsedCell) -> Cell:
        jelly = _jelly(look.parsed)
        if self._pitch_px(cell) < trust.PITCH_MEASURE_LEAST_PX:
            return replace(
                self._base(cell, look.frame, Content.LARVA, [Flag.TOO_SMALL]), jelly=jelly
            )
        both = _mean_of(look.parsed, mirrored)
        body = measure_body(both)
        if body is None:
            flags = [Flag.OUTLINE_UNCERTAIN, *trust.picture_flags(look.crop, look.parsed)]
            return replace(self._base(cell, look.frame, Content.LARVA, flags), jelly=jelly)
        outline = look.frame.to_picture(body.outline_xy_px)
        if self._is_cut(outline, margin_px=1.0):
            base = self._base(cell, look.frame, Content.LARVA, [Flag.CUT_BY_FRAME])
            return replace(base, flags=(Flag.CUT_BY_FRAME,), jelly=jelly)
        looks = [body, *filter(None, (measure_body(look.parsed), measure_body(mirrored)))]
        return self._measured(cell, look, looks, jelly)

    def _measured(
        self, cell: FoundCell, look: _Look, looks: list[BodyMeasure], jelly: Jelly
    ) -> Cell:
        body = looks[0]
        outline = _points(look.frame, body.outline_xy_px)
        if body.visible_share < trust.VISIBLE_LEAST:
            base = self._base(cell, look.frame, Content.LARVA, [Flag.HIDDEN_BY_WALL])
            return replace(
                base, visible_share=body.visible_share, outline_xy_px=outline, jelly=jelly
            )
        px_per_crop_px = self._pitch_px(cell) / CROP_PITCH_PX
        spread = trust.error_spread(looks, px_per_crop_px=px_per_crop_px)
        flags = [Flag.CLOSED] if body.is_closed else []
        if trust.is_uncertain(spread, body):
            flags += [Flag.OUTLINE_UNCERTAIN, *trust.picture_flags(look.crop, look.parsed)]
        mm_per_px = self._guess.pitch_mm / CROP_PITCH_PX * self._guess.length_factor()
        length_mm = body.length_px * mm_per_px
        return replace(
            self._base(cell, look.frame, Content.LARVA, flags),
            visible_share=body.visible_share,
            jelly=jelly,
            length_mm=length_mm,
            length_mm_sd=length_mm * math.hypot(spread.length_share, self._guess.length_sd_share()),
            width_mm=body.width_px * mm_per_px,
            area_mm2=body.area_px2 * mm_per_px**2,
            curl_deg=None if body.is_closed else body.curl_deg,
            curl_deg_sd=None if body.is_closed else spread.curl_deg,
            midline_xy_px=_points(look.frame, body.midline_xy_px),
            outline_xy_px=outline,
        )


def _content(parsed: ParsedCell) -> Content:
    best = int(np.argmax(parsed.content))
    return CONTENT_CLASSES[best] if parsed.content[best] >= _CONTENT_SURE else Content.UNCLEAR


def _jelly(parsed: ParsedCell) -> Jelly:
    return JELLY_CLASSES[int(np.argmax(parsed.jelly))]


def _points(frame: CropFrame, points_xy: NDArray[np.float64]) -> PointsXY | None:
    if len(points_xy) == 0:
        return None
    return tuple((float(x), float(y)) for x, y in np.round(frame.to_picture(points_xy), 2))


def _upright(mirrored: ParsedCell) -> ParsedCell:
    return replace(
        mirrored,
        body=mirrored.body[::-1],
        seen=mirrored.seen[::-1],
        line=mirrored.line[::-1],
        egg=mirrored.egg[::-1],
    )


def _mean_of(one: ParsedCell, other: ParsedCell) -> ParsedCell:
    return replace(
        one,
        body=(one.body + other.body) / 2.0,
        seen=(one.seen + other.seen) / 2.0,
        line=(one.line + other.line) / 2.0,
        egg=(one.egg + other.egg) / 2.0,
    )

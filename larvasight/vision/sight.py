"""How a picture of comb was taken: how far off its axis cells are seen, whether it is shaken."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.vision.lattice import FoundLattice
from larvasight.vision.rectify import Pyramid
from larvasight.vision.scale import ScaleGuess

# Further off the axis of the camera than this the wall of a cell hides much of its floor: on drawn
# comb seen by wide lenses 2 of 300 cells within it were misread, and a third of those beyond.
OFF_AXIS_MOST_DEG = 14.0
# Edges of comb run all ways alike, mostly. Where those of one way are so much weaker than those
# across, and more so the finer they are, the camera moved: light from one side weakens coarse edges
# as well. Of 118 drawn combs one is called shaken, of those shaken by 8 % of a cell four in five.
_EVEN_LEAST = 0.68
_FINE_LEAST = 0.85
_COARSE_PITCHES = 0.03
# Edges are compared in a halving with no more px to the cell than this: sensor noise has none.
_PITCH_MOST_PX = 160.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """How a picture was taken.

    ``middle_xy_px`` is the middle of the picture, ``focal_px`` its focal length in px, None where
    nothing tells it; ``is_shaken`` says that the camera moved.
    """

    middle_xy_px: tuple[float, float]
    focal_px: float | None = None
    is_shaken: bool = False

    def is_far_off_axis(self, place_xy_px: tuple[float, float]) -> bool:
        """Return whether a cell is seen too far from the side for its floor to be told."""
        if self.focal_px is None:
            return False
        away_px = math.dist(place_xy_px, self.middle_xy_px)
        return math.degrees(math.atan2(away_px, self.focal_px)) > OFF_AXIS_MOST_DEG


def sight_of(
    pyramid: Pyramid, lattice: FoundLattice, guess: ScaleGuess, focal_px: float | None
) -> Sight:
    """Return how a picture was taken.

    Parameters
    ----------
    pyramid : Pyramid
        The picture.
    lattice : FoundLattice
        Its cells.
    guess : ScaleGuess
        Cell size and camera distance.
    focal_px : float or None
        Focal length that the camera noted; without it a known distance tells it.
    """
    width_px, height_px = pyramid.size_px
    if focal_px is None and guess.distance_mm is not None:
        # A pinhole shows 1 mm at the distance d as f / d px.
        focal_px = lattice.pitch_px / guess.pitch_mm * guess.distance_mm
    return Sight(
        middle_xy_px=((width_px - 1) / 2.0, (height_px - 1) / 2.0),
        focal_px=focal_px,
        is_shaken=is_shaken(pyramid, lattice),
    )


def is_shaken(pyramid: Pyramid, lattice: FoundLattice) -> bool:
    """Return whether a picture is smeared one way about a lattice's cells.

    Told by the eigenvectors of the mean structure tensor (Bigun & Granlund 1987), of the picture
    and of the same blurred.
    """
    level = max(0, math.ceil(math.log2(lattice.pitch_px / _PITCH_MOST_PX)))
    places = np.array([cell.centre_xy_px for cell in lattice.cells]) / 2.0**level
    pitch_px = lattice.pitch_px / 2.0**level
    left, top = np.maximum(places.min(axis=0) - 0.5 * pitch_px, 0.0).astype(int).tolist()
    right, bottom = (places.max(axis=0) + 0.5 * pitch_px + 1.0).astype(int).tolist()
    shown = pyramid.level(level)[top:bottom, left:right]
    grey = np.asarray(cv2.cvtColor(shown, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    fine = _edges(grey)
    (low, high), ways = np.linalg.eigh(fine)
    if not low < _EVEN_LEAST * high:
        return False
    coarse = _edges(np.asarray(cv2.GaussianBlur(grey, (0, 0), _COARSE_PITCHES * pitch_px)))
    weak, strong = (float(way @ fine @ way / (way @ coarse @ way)) for way in ways.T)
    return weak < _FINE_LEAST * strong


def _edges(grey: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the mean structure tensor of grey levels, shape (2, 2)."""
    x, y = (
        np.asarray(cv2.Sobel(grey, cv2.CV_32F, *way), dtype=np.float64) for way in ((1, 0), (0, 1))
    )
    mixed = float((x * y).mean())
    return np.array([[float((x * x).mean()), mixed], [mixed, float((y * y).mean())]])

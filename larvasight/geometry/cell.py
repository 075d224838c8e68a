"""The shape of one cell: depth, three-rhombus floor and scale at depth."""

import math

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_positive
from larvasight.geometry.facts import Fact, Label

# Centre to centre of worker cells; users set 4.6-5.6 mm.
PITCH_DEFAULT = Fact(
    name="cell pitch without a ruler",
    value=5.3,
    unit="mm",
    label=Label.DERIVED,
    source=(
        "middle of 5.2-5.4 mm, European worker comb: 5.2 in natural nests (Seeley & Morse 1976, as"
        " quoted by Borst), 5.3 in Costa Rica 1984 (Spivak, as quoted on honeybeeworld.com)"
    ),
)
PITCH_MIN = Fact(
    name="smallest cell pitch",
    value=4.6,
    unit="mm",
    label=Label.PUBLISHED,
    source="Africanised comb 4.6-5.0 mm (Spivak, as quoted on honeybeeworld.com)",
)
PITCH_MAX = Fact(
    name="largest cell pitch",
    value=5.6,
    unit="mm",
    label=Label.DERIVED,
    source="foundation sold up to 5.6 mm (web lists: Heaf; Denwood 2003; ikeepbees.com.au)",
)
CELL_DEPTH = Fact(
    name="depth of a worker cell",
    value=11.0,
    unit="mm",
    label=Label.DERIVED,
    source=(
        "half of worker comb 21-24 mm thick over both sides (Seeley & Morse 1976, as quoted by"
        " Borst), within 10.5-12 mm"
    ),
)
LARVA_DEPTH = Fact(
    name="rim to the plane in which larvae lie",
    value=10.0,
    unit="mm",
    label=Label.DERIVED,
    source="cell depth less the food under the body: judgement",
)

FACTS: tuple[Fact, ...] = (PITCH_DEFAULT, PITCH_MIN, PITCH_MAX, CELL_DEPTH, LARVA_DEPTH)

PITCH_DEFAULT_MM = PITCH_DEFAULT.value
PITCH_MIN_MM = PITCH_MIN.value
PITCH_MAX_MM = PITCH_MAX.value
CELL_DEPTH_MM = CELL_DEPTH.value
LARVA_DEPTH_MM = LARVA_DEPTH.value


def rhombus_floor_z(
    xy: NDArray[np.float64], *, first_ridge_deg: float = 90.0
) -> NDArray[np.float64]:
    """Return the height of a three-rhombus cell floor above its deepest point.

    Three planes meet at the axis, each leaning so that the rhombi have apex angles of
    109 deg 28' and neighbouring planes meet at 120 deg.

    Parameters
    ----------
    xy : ndarray of shape (..., 2)
        Points about the cell's axis, any unit.
    first_ridge_deg : float
        Direction in which one rhombus rises steepest, degrees.

    Returns
    -------
    ndarray of shape (...)
        Height in the unit of ``xy``, >= 0.
    """
    directions_rad = np.radians(first_ridge_deg + np.array([0.0, 120.0, 240.0]))
    rise = [xy[..., 0] * math.cos(a) + xy[..., 1] * math.sin(a) for a in directions_rad]
    return np.asarray(np.maximum.reduce(rise) / math.sqrt(2.0), dtype=np.float64)


def depth_scale(distance_mm: float, depth_mm: float = LARVA_DEPTH_MM) -> float:
    """Return how much smaller things look at a depth than in the rim plane.

    Parameters
    ----------
    distance_mm : float
        Camera to rim plane, mm; > 0.
    depth_mm : float
        Depth below the rim plane, mm.

    Returns
    -------
    float
        Factor by which a length measured with the rim-plane scale is to be multiplied.
    """
    return 1.0 + depth_mm / require_positive("distance_mm", distance_mm)

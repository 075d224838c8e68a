"""How px of the rim plane become mm at the larva's depth, and how sure that is."""

import math
from dataclasses import dataclass

from larvasight.errors import require_between, require_positive
from larvasight.geometry import LARVA_DEPTH_MM, PITCH_DEFAULT_MM, depth_scale
from larvasight.sheet import ScaleSource

# Assumed camera distance where neither photo nor person tells it, and its spread.
DISTANCE_ASSUMED_MM = 200.0
DISTANCE_ASSUMED_SD_MM = 80.0
# A cell size that nobody measured may be off by this share; a measured one by less: derived
# from 5.2-5.4 mm for European worker comb.
_PITCH_ASSUMED_SD_SHARE = 0.015
_PITCH_GIVEN_SD_SHARE = 0.005


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

"""How larvae grow: age to size and curl, their spread, and back to an age band."""

from larvasight.geometry.facts import Fact
from larvasight.growth import curve, egg, inverse, spread
from larvasight.growth.curve import (
    AGE_MAX_H,
    mean_curl_deg,
    mean_length_mm,
    mean_mass_mg,
    mean_width_mm,
)
from larvasight.growth.egg import CAPPED_BY_D, EGG_STAGE_H, EGG_STAGE_SD_H, EggPose, sample_egg
from larvasight.growth.inverse import BAND_SHARE, AgePosterior, age_posterior, looks_age_h
from larvasight.growth.spread import BodySize, sample_body, sample_colony_rate

FACTS: tuple[Fact, ...] = (*curve.FACTS, *spread.FACTS, *egg.FACTS, *inverse.FACTS)

__all__ = [
    "AGE_MAX_H",
    "BAND_SHARE",
    "CAPPED_BY_D",
    "EGG_STAGE_H",
    "EGG_STAGE_SD_H",
    "FACTS",
    "AgePosterior",
    "BodySize",
    "EggPose",
    "age_posterior",
    "looks_age_h",
    "mean_curl_deg",
    "mean_length_mm",
    "mean_mass_mg",
    "mean_width_mm",
    "sample_body",
    "sample_colony_rate",
    "sample_egg",
]

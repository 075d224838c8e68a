"""How far individuals and colonies differ, and drawing one body of an age."""

from dataclasses import dataclass

import numpy as np

from larvasight.geometry.facts import Fact, Label
from larvasight.growth.curve import AGE_MAX_H, mean_curl_deg, mean_length_mm, slenderness

LENGTH_CV = Fact(
    name="spread of length at one age (CV)",
    value=0.065,
    unit="share",
    label=Label.DERIVED,
    source=(
        "head diameter CV 5-8 % within an instar, 3-10 % at the extremes (Rembold et al. 1980;"
        " Michelette & Soares 1993, both in Human et al. 2013, BEEBOOK, Table 8)"
    ),
)
SLENDER_CV = Fact(
    name="spread of length over width (CV)",
    value=0.04,
    unit="share",
    label=Label.DERIVED,
    source="judgement",
)
CURL_SD = Fact(
    name="spread of curl at one age (SD)",
    value=35.0,
    unit="deg",
    label=Label.DERIVED,
    source="judgement: larvae move and straighten; no published figure found",
)
COLONY_RATE_SD = Fact(
    name="spread of growth rate between colonies (SD)",
    value=0.09,
    unit="share",
    label=Label.DERIVED,
    source="judgement: colony, season and food; no published figure found",
)
CURL_DRAWN_MIN = Fact(
    name="least curl drawn",
    value=8.0,
    unit="deg",
    label=Label.DERIVED,
    source="judgement: a body lies no straighter than a faint bow",
)
CURL_DRAWN_MAX = Fact(
    name="greatest curl drawn",
    value=385.0,
    unit="deg",
    label=Label.DERIVED,
    source="judgement: a body lies not far past a closed ring",
)
CURL_DRAWN_MIN_DEG = CURL_DRAWN_MIN.value
CURL_DRAWN_MAX_DEG = CURL_DRAWN_MAX.value

FACTS: tuple[Fact, ...] = (
    LENGTH_CV,
    SLENDER_CV,
    CURL_SD,
    COLONY_RATE_SD,
    CURL_DRAWN_MIN,
    CURL_DRAWN_MAX,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BodySize:
    """Size and curl of one larva; ``curl_deg`` is what its midline is to sweep."""

    length_mm: float
    width_mm: float
    curl_deg: float


def sample_colony_rate(rng: np.random.Generator) -> float:
    """Return one colony's growth rate against the mean, never below 0.7 or above 1.3."""
    return float(np.clip(rng.normal(1.0, COLONY_RATE_SD.value), 0.7, 1.3))


def sample_body(age_h: float, rng: np.random.Generator, colony_rate: float = 1.0) -> BodySize:
    """Draw the body of one larva.

    Parameters
    ----------
    age_h : float
        Hours after hatching, 0-96.
    rng : numpy.random.Generator
        Source of chance.
    colony_rate : float
        Growth rate of its colony against the mean; > 0.

    Returns
    -------
    BodySize
        Length (CV ``LENGTH_CV``), width and curl (SD ``CURL_SD``, clipped to what a body can do).

    Raises
    ------
    ValueError
        If ``age_h`` lies outside 0-96.
    """
    mean_length_mm(age_h)
    grown_h = min(age_h * colony_rate, AGE_MAX_H)
    length_mm = mean_length_mm(grown_h) * float(np.exp(rng.normal(0.0, LENGTH_CV.value)))
    ratio = slenderness(grown_h) * float(np.exp(rng.normal(0.0, SLENDER_CV.value)))
    curl_deg = rng.normal(mean_curl_deg(grown_h), CURL_SD.value)
    return BodySize(
        length_mm=length_mm,
        width_mm=length_mm / ratio,
        curl_deg=float(np.clip(curl_deg, CURL_DRAWN_MIN_DEG, CURL_DRAWN_MAX_DEG)),
    )

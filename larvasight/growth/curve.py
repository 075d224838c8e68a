"""Mean mass, length, width and curl of a worker larva by hours after hatching.

No published table of length or curl by the hour was found. Mass follows published
weights; length and width are computed from it for a body of fixed proportions; the
curl curve is derived so that 12-24 h reads "comma to half ring" and 36 h a plain C.
"""

import math
from functools import cache

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_between
from larvasight.geometry.facts import Fact, Label

AGE_MAX_H = 96.0
_GRID_STEP_H = 0.05

_HUMAN = "Human et al. 2013, BEEBOOK, Miscellaneous standard methods"
_THRASY = (
    f"Thrasyvoulou & Benton 1982, in {_HUMAN}, Table 9"
    " (age_h = 1.41 + 32.60 mass_mg, labels swapped there)"
)
_INSTARS = (
    "interpolated, checked against instar weight limits"
    f" (Rembold et al. 1980, in {_HUMAN}, Table 8)"
)
_SERIES = "daily weights at bee-info.com (its source not given there)"
_MEMORY = "Nelson & Sturtevant 1924 from memory"

MASS_KNOTS: tuple[tuple[float, Fact], ...] = tuple(
    (
        age_h,
        Fact(name=f"mass at {age_h:g} h", value=mass_mg, unit="mg", label=label, source=source),
    )
    for age_h, mass_mg, label, source in (
        (0.0, 0.11, Label.DERIVED, "65 % of the new-laid egg's weight (Woyke 1998, abstract)"),
        (12.0, 0.34, Label.DERIVED, f"between Wang 1965 (0.36 mg) and {_THRASY}"),
        (24.0, 0.69, Label.DERIVED, f"computed from {_THRASY}"),
        (36.0, 1.55, Label.DERIVED, _INSTARS),
        (48.0, 3.6, Label.DERIVED, f"between 3.4 mg of {_SERIES} and 4.7 mg of {_MEMORY}"),
        (60.0, 11.0, Label.DERIVED, _INSTARS),
        (72.0, 30.0, Label.DERIVED, f"between 33.3 mg of {_SERIES} and 24.6 mg of {_MEMORY}"),
        (84.0, 58.0, Label.DERIVED, _INSTARS),
        (96.0, 100.0, Label.DERIVED, f"100.1 mg of {_SERIES}; 94.7 mg of {_MEMORY}"),
    )
)

BODY_DENSITY = Fact(
    name="body density",
    value=1.05,
    unit="mg/mm3",
    label=Label.DERIVED,
    source="water-rich soft tissue: judgement",
)
BODY_FILL = Fact(
    name="body volume over length x width^2",
    value=0.9 * math.pi / 4.0,
    unit="share",
    label=Label.DERIVED,
    source="cylinder with rounded ends",
)
_HEADS = (
    "judgement; makes the body 1.0-1.1 head diameters wide after each moult and 1.3-1.6 in the"
    f" middle of instars 1-4 (Rembold et al. 1980, in {_HUMAN}, Table 8)"
)
SLENDER_AT_HATCH = Fact(
    name="length over width at hatching",
    value=4.4,
    unit="ratio",
    label=Label.DERIVED,
    source=_HEADS,
)
SLENDER_LATER = Fact(
    name="length over width when settled",
    value=4.0,
    unit="ratio",
    label=Label.DERIVED,
    source=_HEADS,
)
SLENDER_SETTLED = Fact(
    name="age at which proportions settle",
    value=12.0,
    unit="h",
    label=Label.DERIVED,
    source="judgement",
)

_CURL_WHY = "chosen so that 12-24 h reads comma to half ring, 36 h a C, 48 h nearly closed"
CURL_BASE = Fact(
    name="curl long before", value=40.0, unit="deg", label=Label.DERIVED, source=_CURL_WHY
)
CURL_RISE = Fact(name="curl gained", value=320.0, unit="deg", label=Label.DERIVED, source=_CURL_WHY)
CURL_MIDDLE = Fact(
    name="age at half the gain", value=26.0, unit="h", label=Label.DERIVED, source=_CURL_WHY
)
CURL_PACE = Fact(
    name="pace of curling", value=10.0, unit="h", label=Label.DERIVED, source=_CURL_WHY
)

FACTS: tuple[Fact, ...] = (
    *(fact for _, fact in MASS_KNOTS),
    BODY_DENSITY,
    BODY_FILL,
    SLENDER_AT_HATCH,
    SLENDER_LATER,
    SLENDER_SETTLED,
    CURL_BASE,
    CURL_RISE,
    CURL_MIDDLE,
    CURL_PACE,
)


def mean_mass_mg(age_h: float) -> float:
    """Return the mean mass of a worker larva.

    Parameters
    ----------
    age_h : float
        Hours after hatching, 0-96.

    Returns
    -------
    float
        Mass in mg: a monotone cubic through ``MASS_KNOTS`` on the logarithm of mass.

    Raises
    ------
    ValueError
        If ``age_h`` lies outside 0-96.
    """
    require_between("age_h", age_h, 0.0, AGE_MAX_H)
    ages_h, masses_mg = _mass_table()
    return float(np.interp(age_h, ages_h, masses_mg))


def mean_length_mm(age_h: float) -> float:
    """Return the mean midline length in mm at ``age_h`` (0-96 h); ValueError outside."""
    volume_mm3 = mean_mass_mg(age_h) / BODY_DENSITY.value
    return float((volume_mm3 * slenderness(age_h) ** 2 / BODY_FILL.value) ** (1.0 / 3.0))


def mean_width_mm(age_h: float) -> float:
    """Return the mean largest body width in mm at ``age_h`` (0-96 h); ValueError outside."""
    return mean_length_mm(age_h) / slenderness(age_h)


def mean_curl_deg(age_h: float) -> float:
    """Return the mean swept angle of the midline in degrees at ``age_h``."""
    paces = (age_h - CURL_MIDDLE.value) / CURL_PACE.value
    return CURL_BASE.value + CURL_RISE.value / (1.0 + math.exp(-paces))


def slenderness(age_h: float) -> float:
    """Return length over width, easing from hatching to ``SLENDER_SETTLED``."""
    left = max(0.0, 1.0 - age_h / SLENDER_SETTLED.value)
    return SLENDER_LATER.value + (SLENDER_AT_HATCH.value - SLENDER_LATER.value) * left**2


@cache
def mean_table() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return ages (h), mean lengths (mm) and mean curls (deg) on a fine grid over 0-96 h.

    Returns
    -------
    tuple of ndarray of shape (N,), float64
        Read-only arrays.
    """
    ages_h = _mass_table()[0]
    lengths_mm = np.array([mean_length_mm(age) for age in ages_h])
    curls_deg = np.array([mean_curl_deg(age) for age in ages_h])
    for array in (lengths_mm, curls_deg):
        array.setflags(write=False)
    return ages_h, lengths_mm, curls_deg


@cache
def _mass_table() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    from scipy.interpolate import PchipInterpolator  # heavy: only when first needed

    knots_h = np.array([age_h for age_h, _ in MASS_KNOTS])
    masses_mg = np.array([fact.value for _, fact in MASS_KNOTS])
    ages_h = np.linspace(0.0, AGE_MAX_H, round(AGE_MAX_H / _GRID_STEP_H) + 1)
    table_mg = np.exp(PchipInterpolator(knots_h, np.log(masses_mg))(ages_h))
    ages_h.setflags(write=False)
    return ages_h, table_mg

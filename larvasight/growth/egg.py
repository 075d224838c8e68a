"""The egg stage: how long it lasts, how eggs look and stand."""

from dataclasses import dataclass

import numpy as np

from larvasight.errors import require_between
from larvasight.geometry.facts import Fact, Label

EGG_STAGE_H = Fact(
    name="egg stage",
    value=74.0,
    unit="h",
    label=Label.DERIVED,
    source=(
        "middle of 72-76 h at nest temperature (honeybeesuite.com); 3.12 +- 0.25 d (Morini & Bueno"
        " 1996, abstract)"
    ),
)
EGG_STAGE_SD_H = Fact(
    name="spread of the egg stage (SD)",
    value=4.0,
    unit="h",
    label=Label.DERIVED,
    source="Collins 2004, abstract (hatching watched from 65 to 93 h); judgement",
)
CAPPED_BY_D = Fact(
    name="days after laying by which every worker cell is capped",
    value=10.0,
    unit="d",
    label=Label.COMMON_PRACTICE,
)
EGG_LENGTH_MM = Fact(
    name="length of a new-laid egg",
    value=1.5,
    unit="mm",
    label=Label.PUBLISHED,
    source="Waller 1980, USDA Agriculture Handbook 335 (about 1.5 mm)",
)
EGG_LENGTH_CV = Fact(
    name="spread of egg length (CV)",
    value=0.06,
    unit="share",
    label=Label.DERIVED,
    source=(
        "1.3-1.8 mm (bee-info.com) read as +- 2.5 SD, rounded down: that range holds eggs of all"
        " ages and queens"
    ),
)
EGG_WIDTH_MM = Fact(
    name="width of a new-laid egg",
    value=0.38,
    unit="mm",
    label=Label.DERIVED,
    source="between 0.368 mm (Woyke 1994, abstract) and 0.4 mm (beelifeinfo.com)",
)
EGG_SHRUNK_SHARE = Fact(
    name="egg length at its smallest against new-laid",
    value=0.91,
    unit="share",
    label=Label.PUBLISHED,
    source="Woyke 1998, abstract (at 52.5-57 h)",
)
EGG_SHRUNK_AT_H = Fact(
    name="hours after laying at which an egg is smallest",
    value=55.0,
    unit="h",
    label=Label.DERIVED,
    source="middle of 52.5-57 h (Woyke 1998, abstract), rounded",
)
EGG_HATCHING_SHARE = Fact(
    name="egg length at hatching against new-laid",
    value=0.93,
    unit="share",
    label=Label.PUBLISHED,
    source="Woyke 1998, abstract",
)
EGG_UPRIGHT_SHARE = Fact(
    name="eggs left upright until hatching",
    value=0.25,
    unit="share",
    label=Label.DERIVED,
    source=(
        "some eggs do not move before hatching (Woyke 1987 and DuPraw 1960, as quoted); the share"
        " is judgement"
    ),
)
# Hours since laying and the lean usually taught there: upright, leaning, lying.
LEAN_KNOTS: tuple[tuple[float, Fact], ...] = tuple(
    (
        laid_h,
        Fact(
            name=f"usual lean of an egg {laid_h:g} h after laying",
            value=lean_deg,
            unit="deg",
            label=Label.DERIVED,
            source="usual teaching: upright, leaning, lying by day; the angles are judgement",
        ),
    )
    for laid_h, lean_deg in ((0.0, 4.0), (24.0, 18.0), (48.0, 50.0), (72.0, 82.0))
)
LEAN_SD_DEG = Fact(
    name="spread of an egg's lean (SD)",
    value=20.0,
    unit="deg",
    label=Label.DERIVED,
    source="judgement",
)
LEAN_UPRIGHT_SD_DEG = Fact(
    name="spread of an upright egg's lean (SD)",
    value=8.0,
    unit="deg",
    label=Label.DERIVED,
    source="judgement",
)

FACTS: tuple[Fact, ...] = (
    EGG_STAGE_H,
    EGG_STAGE_SD_H,
    CAPPED_BY_D,
    EGG_LENGTH_MM,
    EGG_LENGTH_CV,
    EGG_WIDTH_MM,
    EGG_SHRUNK_SHARE,
    EGG_SHRUNK_AT_H,
    EGG_HATCHING_SHARE,
    EGG_UPRIGHT_SHARE,
    *(fact for _, fact in LEAN_KNOTS),
    LEAN_SD_DEG,
    LEAN_UPRIGHT_SD_DEG,
)

# An egg that usually leans less than this counts as upright, degrees.
_UPRIGHT_TO_DEG = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EggPose:
    """One egg: its size and how far it leans from upright (90 lies flat)."""

    length_mm: float
    width_mm: float
    lean_deg: float


def egg_size_share(laid_h: float) -> float:
    """Return an egg's length against its new-laid length, ``laid_h`` hours after laying."""
    return float(
        np.interp(
            laid_h,
            (0.0, EGG_SHRUNK_AT_H.value, EGG_STAGE_H.value),
            (1.0, EGG_SHRUNK_SHARE.value, EGG_HATCHING_SHARE.value),
        )
    )


def sample_egg(age_h: float, rng: np.random.Generator) -> EggPose:
    """Draw one egg.

    The lean follows usual teaching with wide spread, and a quarter of eggs stay
    upright, since experiments found that posture does not tell an egg's age.

    Parameters
    ----------
    age_h : float
        Hours after hatching, so -74 to 0 for an egg.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    EggPose
        Size and lean.

    Raises
    ------
    ValueError
        If ``age_h`` lies outside -90 to 0.
    """
    require_between("age_h", age_h, -90.0, 0.0)
    laid_h = max(0.0, age_h + EGG_STAGE_H.value)
    share = egg_size_share(laid_h) * float(np.exp(rng.normal(0.0, EGG_LENGTH_CV.value)))
    usual_deg = float(
        np.interp(laid_h, [at_h for at_h, _ in LEAN_KNOTS], [f.value for _, f in LEAN_KNOTS])
    )
    if rng.random() < EGG_UPRIGHT_SHARE.value:
        usual_deg = LEAN_KNOTS[0][1].value
    spread = LEAN_SD_DEG if usual_deg > _UPRIGHT_TO_DEG else LEAN_UPRIGHT_SD_DEG
    lean_deg = abs(rng.normal(usual_deg, spread.value))
    return EggPose(
        length_mm=EGG_LENGTH_MM.value * share,
        width_mm=EGG_WIDTH_MM.value * share,
        lean_deg=float(min(lean_deg, 90.0)),
    )

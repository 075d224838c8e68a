"""How large comb stands on a screen when it is shown as through a loupe."""

from larvasight.errors import require_positive
from larvasight.geometry.facts import Fact, Label

CARD_WIDTH = Fact(
    name="width of a bank card (ID-1)",
    value=85.60,
    unit="mm",
    label=Label.PUBLISHED,
    source="ISO/IEC 7810:2019, size ID-1",
)
CARD_HEIGHT = Fact(
    name="height of a bank card (ID-1)",
    value=53.98,
    unit="mm",
    label=Label.PUBLISHED,
    source="ISO/IEC 7810:2019, size ID-1",
)
CARD_CORNER = Fact(
    name="radius of a bank card's corners (ID-1)",
    value=3.18,
    unit="mm",
    label=Label.PUBLISHED,
    source="ISO/IEC 7810:2019, size ID-1: 2.88 to 3.48 mm",
)
LOUPE_FIELD = Fact(
    name="comb seen at once through a hand loupe, across",
    value=60.0,
    unit="mm",
    label=Label.COMMON_PRACTICE,
)

WEAK_LOUPE = Fact(
    name="magnification of a weak hand loupe", value=2.5, unit="ratio", label=Label.COMMON_PRACTICE
)
STRONG_LOUPE = Fact(
    name="magnification of a strong hand loupe",
    value=3.5,
    unit="ratio",
    label=Label.COMMON_PRACTICE,
)
MICROSCOPE = Fact(
    name="magnification of a microscope on a stand",
    value=8.0,
    unit="ratio",
    label=Label.COMMON_PRACTICE,
)

FACTS: tuple[Fact, ...] = (
    CARD_WIDTH,
    CARD_HEIGHT,
    CARD_CORNER,
    LOUPE_FIELD,
    WEAK_LOUPE,
    STRONG_LOUPE,
    MICROSCOPE,
)

CARD_WIDTH_MM = CARD_WIDTH.value
CARD_HEIGHT_MM = CARD_HEIGHT.value
CARD_CORNER_MM = CARD_CORNER.value


def magnifications() -> tuple[float, ...]:
    """Return how many times larger comb can be shown, hand loupes first."""
    return (WEAK_LOUPE.value, STRONG_LOUPE.value, MICROSCOPE.value)


def screen_px_per_mm(card_width_px: float) -> float:
    """Return the pixels to a mm of a screen on which a bank card is this wide.

    Raises
    ------
    ValueError
        If the width is not above 0.
    """
    return require_positive("card_width_px", card_width_px) / CARD_WIDTH_MM


def on_screen_px(length_mm: float, magnification: float, px_per_mm: float) -> float:
    """Return how long something of the comb is on a screen.

    Parameters
    ----------
    length_mm : float
        Its length on the comb.
    magnification : float
        How many times larger it is shown.
    px_per_mm : float
        Pixels to a mm of the screen.

    Raises
    ------
    ValueError
        If magnification or scale are not above 0.
    """
    require_positive("magnification", magnification)
    return length_mm * magnification * require_positive("px_per_mm", px_per_mm)


def field_px(magnification: float, px_per_mm: float, room_px: tuple[float, float]) -> float | None:
    """Return the diameter of the round field that a hand loupe shows, px.

    Parameters
    ----------
    magnification : float
        How many times larger the comb is shown.
    px_per_mm : float
        Pixels to a mm of the screen.
    room_px : tuple of float
        Width and height of where it is shown; the field is never wider.

    Returns
    -------
    float or None
        None where no round field is seen, as under a microscope.
    """
    if magnification > STRONG_LOUPE.value:
        return None
    return min(on_screen_px(LOUPE_FIELD.value, magnification, px_per_mm), *room_px)

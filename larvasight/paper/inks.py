"""The colours of charts and pages: one set for paper, one for a dark window."""

from dataclasses import dataclass

from PySide6.QtGui import QColor

from larvasight.paper.marks import GRADE_MARKS
from larvasight.sheet import Grade


@dataclass(frozen=True, slots=True, kw_only=True)
class Inks:
    """Colours of one page as ``#rrggbb``.

    Attributes
    ----------
    paper : str
        What lies under everything.
    ink : str
        Words and signs.
    faint : str
        Words beside the matter: units, numbers on axes.
    grid : str
        Thin lines that only help the eye.
    accent : str
        What was measured.
    span : str
        Usable and best ages, mixed into the paper.
    """

    paper: str
    ink: str
    faint: str
    grid: str
    accent: str
    span: str = GRADE_MARKS[Grade.TAKE].colour


# Accents: Okabe & Ito 2008, blue on paper and sky blue on dark.
LIGHT = Inks(paper="#fffdf8", ink="#2e2218", faint="#6d5c4b", grid="#d9cdb8", accent="#0072B2")
DARK = Inks(paper="#221a14", ink="#f2e9dc", faint="#b8a793", grid="#40332a", accent="#56B4E9")


# Shares of the span's colour in the paper: usable and best, on paper and on dark.
_ON_PAPER = (0.17, 0.38)
_ON_DARK = (0.27, 0.5)


def mixed(under: str, over: str, share: float) -> QColor:
    """Return a colour laid over another one as solid paint, which prints as it shows.

    Parameters
    ----------
    under, over : str
        Colours as ``#rrggbb``.
    share : float
        How much of ``over``, 0-1.

    Returns
    -------
    QColor
        The mixture.
    """
    low, high = QColor(under), QColor(over)
    return QColor.fromRgbF(
        low.redF() + (high.redF() - low.redF()) * share,
        low.greenF() + (high.greenF() - low.greenF()) * share,
        low.blueF() + (high.blueF() - low.blueF()) * share,
    )


def span_colours(inks: Inks) -> tuple[QColor, QColor]:
    """Return the grounds of the usable and of the best span, told apart without colour too."""
    shares = _ON_DARK if QColor(inks.paper).lightnessF() < 0.5 else _ON_PAPER
    usable, best = (mixed(inks.paper, inks.span, share) for share in shares)
    return usable, best

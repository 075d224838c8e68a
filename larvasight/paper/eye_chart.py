"""Where a learner's eye drew the line before each day of grafting, over what was accepted."""

from collections.abc import Sequence

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from larvasight.grading import Limits
from larvasight.grafts.acceptance import EyeDay
from larvasight.paper.day_axis import Points
from larvasight.paper.day_plot import draw_dates, draw_share_days, lay_days
from larvasight.paper.grafts_charts import takes_point
from larvasight.paper.inks import Inks
from larvasight.paper.line_days import draw_edges, draw_hours, lay_hours
from larvasight.paper.plot import chart, draw_heading, words_on

EYE_TITLE = "The oldest larvae taken on the screen before each graft"
TAKES_TITLE = "Of the cups grafted that day, how many were accepted"
# In text heights.
_HEIGHT = 27.0
_UPPER_SHARE = 0.5
_BETWEEN = 0.5


def draw_eye_and_takes(
    painter: QPainter,
    box: QRectF,
    days: Sequence[EyeDay],
    *,
    limits: Limits,
    inks: Inks,
    text_px: float,
) -> None:
    """Draw both one under the other, day under day; nothing joins them, since much else matters.

    Parameters
    ----------
    painter : QPainter
        Where to draw; nothing is drawn outside of ``box``.
    box : QRectF
        Room of ``eye_height_px``.
    days : sequence of EyeDay
        Oldest first; at least one.
    limits : Limits
        Usable and best span, shaded.
    inks : Inks
        Colours; the paper is not painted.
    text_px : float
        Font size.
    """
    points = Points(unit="day", all=tuple(takes_point(each.day, each.takes) for each in days))
    upper = QRectF(box.topLeft(), box.size())
    upper.setHeight(_UPPER_SHARE * box.height())
    lower = box.adjusted(0.0, upper.height() + _BETWEEN * text_px, 0.0, 0.0)
    with chart(painter, box, inks, text_px):
        words = words_on(painter, inks, text_px)
        room = draw_heading(painter, upper, EYE_TITLE, inks, text_px)
        oldest_h = [each.oldest_h for each in days]
        plot = lay_hours(room, oldest_h, limits, words)
        draw_hours(plot, limits, inks, words)
        scale = lay_days(plot, points.all, text_px)
        draw_edges(plot, scale, points.all, oldest_h, inks, words)
        draw_dates(plot, scale, points, words)
        room = draw_heading(painter, lower, TAKES_TITLE, inks, text_px)
        # As far to the left as the hours are: a day stands under itself.
        inside = room.adjusted(0.0, 0.0, plot.area.right() - box.right(), 0.0)
        draw_share_days(painter, inside, points, "cups", inks, text_px)


def eye_height_px(text_px: float) -> float:
    """Return the height that ``draw_eye_and_takes`` needs."""
    return _HEIGHT * text_px

"""Marked pictures, charts and printed pages (QtGui, no widgets)."""

from larvasight.paper.charts import draw_ages, draw_days, draw_hour_strip, hour_strip_height_px
from larvasight.paper.inks import DARK, LIGHT, Inks
from larvasight.paper.marked import save_marked_picture
from larvasight.paper.report import LearnerReport, save_report

__all__ = [
    "DARK",
    "LIGHT",
    "Inks",
    "LearnerReport",
    "draw_ages",
    "draw_days",
    "draw_hour_strip",
    "hour_strip_height_px",
    "save_marked_picture",
    "save_report",
]

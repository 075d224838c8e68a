"""The course day's sheet: what 40 cells tell of one learner, readable without colour."""

from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPen

from larvasight.grading import Limits
from larvasight.paper.age_chart_parts import EDGE_MM
from larvasight.paper.inks import Inks
from larvasight.paper.lettering import Side
from larvasight.paper.line_strip import draw_edges, edges_height_px
from larvasight.paper.pages import Upright, upright_pdf
from larvasight.paper.report_words import CAUTIONS, date_text
from larvasight.practice import Score
from larvasight.practice.course_day import N_CELLS, CourseDay

# Black on white: on a copier nothing of it may be lost.
_INKS = Inks(
    paper="#ffffff",
    ink="#000000",
    faint="#404040",
    grid="#a0a0a0",
    accent="#000000",
    span="#707070",
)
_TITLE_PT, _LEAD_PT, _BODY_PT, _SMALL_PT = 24.0, 15.0, 12.0, 10.0
_GAP_MM = 7.0
_BAR_MM = 26.0

TITLE = "The short test of a course day"
NO_PASS = (
    "There is no pass. Forty cells can show where somebody stands; they cannot show that somebody "
    "is ready for live comb."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CourseDaySheet:
    """What stands on the sheet."""

    name: str
    day: date
    limits: Limits
    told: CourseDay
    program_version: str


def course_day_pdf(sheet: CourseDaySheet) -> bytes:
    """Return the sheet as a PDF of one A4 page."""
    return upright_pdf(
        lambda page, _number: draw_course_day(page, sheet),
        n_pages=1,
        title=f"{TITLE}, {sheet.name}",
        made_on=sheet.day,
        program_version=sheet.program_version,
    )


def draw_course_day(page: Upright, sheet: CourseDaySheet) -> None:
    """Draw the sheet."""
    told, day = sheet.told, sheet.day
    y_mm = page.text(TITLE, _TITLE_PT, (EDGE_MM, EDGE_MM), bold=True) + 1.0
    said = f"{sheet.name}, {date_text(day.day, day.month, day.year)}"
    y_mm = page.text(said, _LEAD_PT, (EDGE_MM, y_mm)) + 3.0
    page.rule(y_mm, width_mm=0.5)
    y_mm = page.text(told.sentence, _LEAD_PT, (EDGE_MM, y_mm + _GAP_MM), bold=True) + _GAP_MM
    if told.score.right is not None:
        y_mm = _draw_share(page, y_mm, told.score) + _GAP_MM
    y_mm = _draw_line(page, y_mm, sheet) + _GAP_MM
    y_mm = _draw_kinds(page, y_mm, told.score) + _GAP_MM
    y_mm = page.text(NO_PASS, _LEAD_PT, (EDGE_MM, y_mm), bold=True) + 3.0
    for caution in CAUTIONS:
        y_mm = page.text(caution, _BODY_PT, (EDGE_MM, y_mm)) + 1.0
    small = page.words(_SMALL_PT, faint=True)
    small.line(
        page.at(EDGE_MM, page.bottom_mm - 2.0), f"larvasight {sheet.program_version}, drawn comb"
    )


def _draw_share(page: Upright, y_mm: float, score: Score) -> float:
    """Draw the share of right picks as a dot on the bar of what it may be; return the end, mm."""
    right = score.right
    if right is None:
        return y_mm
    y_mm = page.text(
        f"Of {score.n_picks} picks that count {score.n_right} were right", _BODY_PT, (EDGE_MM, y_mm)
    )
    left_mm, width_mm = EDGE_MM + 8.0, page.width_mm - 16.0
    words = page.words(_SMALL_PT)
    axis_mm = y_mm + 14.0
    page.pen(0.3)
    page.painter.drawLine(page.at(left_mm, axis_mm), page.at(left_mm + width_mm, axis_mm))
    for per_cent in range(0, 101, 20):
        x_mm = left_mm + width_mm * per_cent / 100.0
        page.painter.drawLine(page.at(x_mm, axis_mm), page.at(x_mm, axis_mm + 1.5))
        words.line(page.at(x_mm, axis_mm + 4.5), f"{per_cent}", Side.MIDDLE)
    end = page.at(left_mm + width_mm, axis_mm + 9.0)
    words.line(end, "right of 100 picks", Side.RIGHT)
    lo, hi = (page.at(left_mm + width_mm * share, y_mm + 7.0) for share in (right.lo, right.hi))
    page.pen(1.2)
    page.painter.drawLine(lo, hi)
    page.pen(0.5)
    for at in (lo, hi):
        page.painter.drawLine(at - QPointF(0.0, 2.0 * page.px_per_mm), at + _down(page, 2.0))
    page.painter.setBrush(QColor(_INKS.ink))
    page.painter.setPen(QPen(QColor(_INKS.paper), 0.4 * page.px_per_mm))
    at = page.at(left_mm + width_mm * score.n_right / score.n_picks, y_mm + 7.0)
    page.painter.drawEllipse(at, 1.9 * page.px_per_mm, 1.9 * page.px_per_mm)
    page.painter.setBrush(Qt.BrushStyle.NoBrush)
    return y_mm + _BAR_MM


def _down(page: Upright, mm: float) -> QPointF:
    return QPointF(0.0, mm * page.px_per_mm)


def _draw_line(page: Upright, y_mm: float, sheet: CourseDaySheet) -> float:
    """Draw the youngest and the oldest taken; return where they end, mm."""
    text_px = page.words(_BODY_PT).size_px
    height_mm = 1.2 * edges_height_px(text_px) / page.px_per_mm
    edges = sheet.told.edges
    room: QRectF = page.box(EDGE_MM, y_mm, page.width_mm, height_mm)
    draw_edges(
        page.painter,
        room,
        edges.young_edge_h,
        edges.old_edge_h,
        limits=sheet.limits,
        inks=_INKS,
        text_px=text_px,
    )
    return y_mm + height_mm


def _draw_kinds(page: Upright, y_mm: float, score: Score) -> float:
    """Write what was taken and left, by kind; return where it ends, mm."""
    rows = (
        ("Cells shown", N_CELLS),
        ("Taken and right", score.n_right),
        ("Taken, too old", score.n_too_old),
        ("Taken, an egg", score.n_egg),
        ("Taken, no larva there", score.n_no_larva),
        ("Right ones left", f"{score.n_missed} of {score.n_good}"),
        ("Not counted: just past the limit, or very young and left", score.n_not_counted),
    )
    words = page.words(_BODY_PT)
    page.rule(y_mm)
    for told, n in rows:
        words.line(page.at(EDGE_MM + 1.5, y_mm + 3.6), told)
        words.line(page.at(page.right_mm - 1.5, y_mm + 3.6), str(n), Side.RIGHT)
        y_mm += 7.2
        page.rule(y_mm)
    return y_mm

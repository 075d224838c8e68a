"""One A4 page for one learner: what was practised, how it went, what to do next."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QPointF, QRectF, QUuid
from PySide6.QtGui import QColor, QPageLayout, QPageSize, QPainter, QPdfWriter, QPen

from larvasight.grading import Limits
from larvasight.paper.charts import draw_ages, draw_days
from larvasight.paper.inks import Inks
from larvasight.paper.lettering import Lettering, Side, span_text
from larvasight.paper.line_days import draw_line_days
from larvasight.paper.line_strip import draw_line_strip, line_strip_height_px
from larvasight.paper.line_words import moved_sentence, next_sentence, rough_sentence
from larvasight.paper.pdf_bytes import with_fixed_date
from larvasight.paper.qt import ensure_application
from larvasight.paper.report_words import (
    CANNOT_TELL_TITLE,
    CAUTIONS,
    CAUTIONS_TITLE,
    Figure,
    cannot_tell,
    date_text,
    main_figures,
    small_figures,
)
from larvasight.paper.stage_words import is_told, mixed_sentence
from larvasight.practice import Progress, say_next
from larvasight.practice.line import Line
from larvasight.practice.stages import StageTable
from larvasight.sheet import write_whole

_DPI = 300
_MM = _DPI / 25.4
_PT = _DPI / 72.0
_WIDTH_MM, _HEIGHT_MM = 210.0, 297.0
_SIDE_MM, _TOP_MM, _FOOT_MM = 18.0, 15.0, 13.0
_GUTTER_MM = 8.0
# Printed on white, so the paper is white whatever the window shows.
PRINT = Inks(paper="#ffffff", ink="#1f1812", faint="#5f5144", grid="#d9cdb8", accent="#0072B2")
_BODY_PT, _CHART_PT, _SMALL_PT = 10.5, 10.5, 9.5
# A name fills one line at a size from the first to the second, else two lines at the third.
_NAME_PT, _NAME_LEAST_PT, _LONG_NAME_PT = 26.0, 18.0, 16.0
_CHART_GAP_MM, _CHART_MOST_MM, _NO_CHART_MM, _NO_LINE_MM = 6.0, 72.0, 34.0, 18.0
# Of two charts beside each other the left one holds more.
_WIDE_SHARE = 0.59


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnerReport:
    """What stands on a learner's page; ``stages`` tells which of them are confused."""

    name: str
    made_on: date
    limits: Limits
    progress: Progress
    line: Line
    program_version: str
    stages: StageTable | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Page:
    """The page being drawn; lengths in px of the printer."""

    painter: QPainter
    left: float = _SIDE_MM * _MM
    right: float = (_WIDTH_MM - _SIDE_MM) * _MM

    @property
    def width(self) -> float:
        return self.right - self.left

    def words(self, size_pt: float, *, bold: bool = False, faint: bool = False) -> Lettering:
        colour = PRINT.faint if faint else PRINT.ink
        return Lettering(painter=self.painter, size_px=size_pt * _PT, colour=colour, bold=bold)

    def rule(self, y: float) -> None:
        self.painter.setPen(QPen(QColor(PRINT.grid), 0.25 * _MM))
        self.painter.drawLine(QPointF(self.left, y), QPointF(self.right, y))


def save_report(path: Path, report: LearnerReport) -> None:
    """Write one learner's page as a PDF of one A4 page.

    Parameters
    ----------
    path : Path
        File to write.
    report : LearnerReport
        What stands on it.

    Raises
    ------
    OutputFolderError
        If the file cannot be written; nothing half-written is left.
    """
    write_whole(path, report_pdf(report))


def report_pdf(report: LearnerReport) -> bytes:
    """Return the page as a PDF with the bundled font in it.

    The same report gives the same page; Qt orders the fonts inside the file anew in each run of
    the program.
    """
    ensure_application()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(_DPI)
    size = QPageSize(QPageSize.PageSizeId.A4)
    upright = QPageLayout.Orientation.Portrait
    writer.setPageLayout(QPageLayout(size, upright, QMarginsF(0.0, 0.0, 0.0, 0.0)))
    writer.setTitle(f"Practice of {_one_line(report.name)}, {report.made_on.isoformat()}")
    writer.setCreator(f"larvasight {report.program_version}")
    writer.setDocumentId(QUuid(str(uuid5(NAMESPACE_URL, repr(report)))))
    painter = QPainter(writer)
    draw_report(painter, report)
    painter.end()
    return with_fixed_date(bytes(buffer.data().data()), report.made_on)


def draw_report(painter: QPainter, report: LearnerReport) -> None:
    """Draw the page on a painter of 300 px to the inch."""
    page = _Page(painter=painter)
    y = _draw_head(page, report)
    y = _draw_figures(page, y, report.progress)
    y = _draw_next(page, y, _next_sentences(report))
    foot = _draw_foot(page, report)
    foot = _draw_notes(page, foot, report)
    _draw_charts(page, y, foot, report)


def _next_sentences(report: LearnerReport) -> str:
    """Return what to look at, stages that are confused, and the drill that is next."""
    stages = report.stages
    mixed = "" if stages is None or not is_told(stages) else mixed_sentence(stages)
    said = (say_next(report.progress), mixed, next_sentence(report.line, report.made_on))
    return " ".join(filter(None, said))


def _draw_charts(page: _Page, y: float, foot: float, report: LearnerReport) -> None:
    """Draw the line and its days side by side, under them ages and days of picks.

    Where there is too little for a line, what is left stands one under the other.
    """
    progress, line = report.progress, report.line
    text_px = _CHART_PT * _PT
    strip, line_days, ages, days = _boxes(page, y, foot, report)
    draw_line_strip(page.painter, strip, line, limits=report.limits, inks=PRINT, text_px=text_px)
    if line.is_enough:
        draw_line_days(
            page.painter, line_days, line, limits=report.limits, inks=PRINT, text_px=text_px
        )
        said = " ".join(filter(None, (rough_sentence(line), moved_sentence(line))))
        under = strip.translated(0.0, strip.height() + 1.5 * _MM)
        page.words(_CHART_PT).wrapped(under, said)
    draw_days(page.painter, days, progress, inks=PRINT, text_px=text_px)
    draw_ages(
        page.painter, ages, progress, limits=report.limits, line=line, inks=PRINT, text_px=text_px
    )


def _boxes(page: _Page, y: float, foot: float, report: LearnerReport) -> tuple[QRectF, ...]:
    """Return the room of the line, of its days, of the ages and of the days of picks."""
    gap, width, left = _CHART_GAP_MM * _MM, page.width, page.left
    if report.line.is_enough:
        room = width - _GUTTER_MM * _MM
        wide, slim = _WIDE_SHARE * room, (1.0 - _WIDE_SHARE) * room
        height = min((foot - y) / 2.0 - gap, _CHART_MOST_MM * _MM)
        right, under = page.right - slim, y + height + gap
        strip_px = min(height, line_strip_height_px(_CHART_PT * _PT))
        return (
            QRectF(left, y, wide, strip_px),
            QRectF(right, y, slim, height),
            QRectF(left, under, wide, height),
            QRectF(right, under, slim, height),
        )
    strip = QRectF(left, y, width, _NO_LINE_MM * _MM)
    y = strip.bottom() + gap
    is_enough, n_picks = report.progress.is_enough, report.progress.score.n_picks
    days_most = _CHART_MOST_MM if is_enough and n_picks else _NO_CHART_MM
    days = QRectF(left, y, width, min((foot - y) / 2.0 - gap, days_most * _MM))
    y = days.bottom() + gap
    ages_most = _CHART_MOST_MM if is_enough else _NO_CHART_MM
    ages = QRectF(left, y, width, min(foot - y - gap, ages_most * _MM))
    return strip, QRectF(), ages, days


def _one_line(name: str) -> str:
    return " ".join(name.split()) or "A learner"


def _draw_head(page: _Page, report: LearnerReport) -> float:
    """Draw what this is, for whom and of when; return where it ends."""
    y = _TOP_MM * _MM
    small = page.words(_BODY_PT, faint=True)
    row = y + small.line_px / 2.0
    small.line(QPointF(page.left, row), "Practice in picking larvae to graft")
    made_on = report.made_on
    day = date_text(made_on.day, made_on.month, made_on.year)
    small.line(QPointF(page.right, row), day, Side.RIGHT)
    y += small.line_px + 1.5 * _MM
    name = _one_line(report.name)
    y = _draw_name(page, y, name) + 2.0 * _MM
    page.rule(y)
    return y + 4.0 * _MM


def _draw_name(page: _Page, y: float, name: str) -> float:
    """Draw a name as large as it fits one line, or smaller in two lines; return its foot."""
    share = page.width / page.words(_NAME_PT, bold=True).width_px(name)
    size_pt = min(_NAME_PT, 0.99 * _NAME_PT * share)
    if size_pt >= _NAME_LEAST_PT:
        words = page.words(size_pt, bold=True)
        words.line(QPointF(page.left, y + words.line_px / 2.0), name)
        return y + words.line_px
    words = page.words(_LONG_NAME_PT, bold=True)
    room_px = 2.0 * page.width
    shown = name
    while not _fits_two_lines(words, shown, page.width):
        room_px -= 0.02 * page.width
        shown = words.elided(name, room_px)
    return y + words.wrapped(QRectF(page.left, y, page.width, 0.0), shown)


def _fits_two_lines(words: Lettering, text: str, width_px: float) -> bool:
    if any(words.width_px(word) > width_px for word in text.split()):
        return False
    return words.height_px(text, width_px) < 2.5 * words.line_px


def _draw_figures(page: _Page, y: float, progress: Progress) -> float:
    """Draw the figures, or that there is too little for any; return where they end."""
    main = main_figures(progress)
    second = page.left + 0.3 * page.width
    both = [(page.left, second), (second, page.right)]
    columns = both if len(main) > 1 else [(page.left, page.right)]
    y = max(
        _draw_figure(page, QRectF(left, y, right - left, 0.0), figure, 28.0, 12.0)
        for (left, right), figure in zip(columns, main, strict=True)
    )
    if not progress.is_enough:
        return y + 5.0 * _MM
    y += 3.5 * _MM
    small = small_figures(progress.score)
    gap = 4.0 * _MM
    width = (page.width - gap * (len(small) - 1)) / len(small)
    bottom = max(
        _draw_figure(
            page, QRectF(page.left + i * (width + gap), y, width, 0.0), figure, 15.0, _BODY_PT
        )
        for i, figure in enumerate(small)
    )
    return bottom + 5.0 * _MM


def _draw_figure(
    page: _Page, box: QRectF, figure: Figure, value_pt: float, words_pt: float
) -> float:
    value = page.words(value_pt, bold=True)
    if value.width_px(figure.value) > box.width():
        size_pt = value_pt * box.width() / value.width_px(figure.value)
        value = page.words(size_pt, bold=True)
    value.line(QPointF(box.left(), box.top() + 0.5 * page.words(value_pt).line_px), figure.value)
    under = box.translated(0.0, page.words(value_pt).line_px)
    return under.top() + page.words(words_pt).wrapped(under, figure.words)


def _draw_next(page: _Page, y: float, sentence: str) -> float:
    """Draw the next thing to practise beside an upright bar; return where it ends."""
    indent = 5.0 * _MM
    title, words = page.words(_BODY_PT, bold=True), page.words(13.0)
    room = QRectF(page.left + indent, y + title.line_px, page.width - indent, 0.0)
    title.line(QPointF(room.left(), y + title.line_px / 2.0), "Next")
    bottom = room.top() + words.wrapped(room, sentence)
    page.painter.fillRect(QRectF(page.left, y, 1.2 * _MM, bottom - y), QColor(PRINT.accent))
    return bottom + 6.0 * _MM


def _draw_foot(page: _Page, report: LearnerReport) -> float:
    """Draw the limits in force and the program at the foot; return where the foot begins."""
    small = page.words(_SMALL_PT, faint=True)
    y = (_HEIGHT_MM - _FOOT_MM) * _MM - small.line_px / 2.0
    limits = report.limits
    best = span_text(limits.best_young_h, limits.best_old_h)
    usable = span_text(limits.young_h, limits.old_h)
    small.line(QPointF(page.left, y), f"Usable {usable}, best {best} after hatching.")
    small.line(QPointF(page.right, y), f"larvasight {report.program_version}", Side.RIGHT)
    top = y - small.line_px / 2.0 - 2.0 * _MM
    page.rule(top)
    return top


def _draw_notes(page: _Page, foot: float, report: LearnerReport) -> float:
    """Draw limits of the figures and cautions side by side over the foot; return their top."""
    blocks = (
        (CANNOT_TELL_TITLE, cannot_tell(report.progress)),
        (CAUTIONS_TITLE, CAUTIONS),
    )
    width = (page.width - _GUTTER_MM * _MM) / 2.0
    title, words = page.words(_BODY_PT, bold=True), page.words(_BODY_PT)
    indent, gap = 4.0 * _MM, 1.2 * _MM
    heights = [
        title.line_px + sum(words.height_px(line, width - indent) + gap for line in lines)
        for _, lines in blocks
    ]
    top = foot - max(heights) - 4.0 * _MM
    for i, (heading, lines) in enumerate(blocks):
        left = page.left + i * (width + _GUTTER_MM * _MM)
        title.line(QPointF(left, top + title.line_px / 2.0), heading)
        y = top + title.line_px
        for line in lines:
            words.line(QPointF(left, y + 0.5 * words.line_px), "\N{BULLET}")
            y += words.wrapped(QRectF(left + indent, y, width - indent, 0.0), line) + gap
    return top

"""An age chart for the wall: the stages at true size, three and ten times as large, and a ruler."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QUuid
from PySide6.QtGui import QColor, QPageLayout, QPageSize, QPainter, QPdfWriter

from larvasight.geometry import PITCH_DEFAULT_MM
from larvasight.grading import Limits, age_words, true_grade
from larvasight.paper.age_chart_parts import (
    EDGE_MM,
    SHOWN_SHARE,
    ChartCell,
    Page,
    Sheet,
    cell_mm,
    draw_cell,
    draw_foot,
    draw_mark,
)
from larvasight.paper.inks import span_colours
from larvasight.paper.lettering import NO_BREAK, Side, span_text
from larvasight.paper.marks import EGG_MARK, GRADE_MARKS, Mark
from larvasight.paper.pdf_bytes import with_fixed_date
from larvasight.paper.qt import ensure_application
from larvasight.paper.report import PRINT
from larvasight.sheet import write_whole

# A whole number of printer px to the mm, so that every length is exact: 508 to the inch.
_PX_PER_MM = 20
N_SHEETS = 2
TIMES_ROW, TIMES_LARGE = 3, 10
_GAP_MM = 4.2
_TITLE_PT, _LEAD_PT, _NAME_PT = 27.0, 16.0, 17.0
_LOOKS_PT = (11.0, 17.0)
_VERDICT_PT = 15.0
_BAR_MM, _VERDICT_MM, _WORD_MM = 9.0, 10.0, 7.4
_N_COLUMNS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AgeChart:
    """What stands on a chart; ``cells`` in the order of age, at most eight."""

    cells: tuple[ChartCell, ...]
    limits: Limits
    made_on: date
    program_version: str


def save_age_chart(path: Path, chart: AgeChart, *, page: Page) -> None:
    """Write the chart as a PDF of two sheets in landscape.

    Parameters
    ----------
    path : Path
        File to write.
    chart : AgeChart
        What stands on it.
    page : Page
        The paper it is printed on.

    Raises
    ------
    OutputFolderError
        If the file cannot be written; nothing half-written is left.
    """
    write_whole(path, age_chart_pdf(chart, page=page))


def age_chart_pdf(chart: AgeChart, *, page: Page) -> bytes:
    """Return the chart as a PDF with the bundled font in it."""
    ensure_application()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setResolution(round(_PX_PER_MM * 25.4))
    size = QPageSize.PageSizeId.A4 if page is Page.A4 else QPageSize.PageSizeId.Letter
    lying = QPageLayout.Orientation.Landscape
    writer.setPageLayout(QPageLayout(QPageSize(size), lying, QMarginsF(0.0, 0.0, 0.0, 0.0)))
    writer.setTitle(f"Age chart of larvae, {chart.made_on.isoformat()}")
    writer.setCreator(f"larvasight {chart.program_version}")
    told = [(cell.title, cell.age_h) for cell in chart.cells]
    told_all = f"{page.name} {told} {chart.limits} {chart.made_on} {chart.program_version}"
    writer.setDocumentId(QUuid(str(uuid5(NAMESPACE_URL, told_all))))
    painter = QPainter(writer)
    for number in range(N_SHEETS):
        if number:
            writer.newPage()
        draw_age_chart(painter, chart, page=page, number=number, px_per_mm=float(_PX_PER_MM))
    painter.end()
    return with_fixed_date(bytes(buffer.data().data()), chart.made_on)


def draw_age_chart(
    painter: QPainter, chart: AgeChart, *, page: Page, number: int, px_per_mm: float
) -> None:
    """Draw one sheet of the chart.

    Parameters
    ----------
    painter : QPainter
        Where to draw, from its origin; the paper is not painted.
    chart : AgeChart
        What stands on it.
    page : Page
        The paper.
    number : int
        0: all stages in a row, three times as large and at true size; 1: ten times as large.
    px_per_mm : float
        The painter's units to the mm.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    sheet = Sheet(painter=painter, page=page, px_per_mm=px_per_mm)
    if number == 0:
        _draw_row(sheet, chart)
    else:
        _draw_large(sheet, chart)
    painter.restore()


def _mark(cell: ChartCell, limits: Limits) -> Mark:
    return EGG_MARK if cell.age_h < 0.0 else GRADE_MARKS[true_grade(cell.age_h, limits)]


def _age(cell: ChartCell, limits: Limits) -> str:
    if cell.age_h < 0.0:
        return f"hatches in {-cell.age_h:.0f}{NO_BREAK}h"
    return f"{age_words(cell.age_h, limits)} old".replace(" ", NO_BREAK)


def _draw_head(sheet: Sheet, lead: str) -> float:
    """Draw the title and what this sheet shows; return where they end, mm."""
    title, words = sheet.words(_TITLE_PT, bold=True), sheet.words(_LEAD_PT, faint=True)
    y_mm = EDGE_MM + 4.5
    right_mm = EDGE_MM + sheet.width_mm
    title.line(sheet.at(EDGE_MM, y_mm), "Young enough to graft?")
    words.line(sheet.at(right_mm, y_mm + 0.8), lead, Side.RIGHT)
    return y_mm + 8.0


def _draw_row(sheet: Sheet, chart: AgeChart) -> None:
    """Draw all stages side by side, each with its words."""
    lead = f"each cell {TIMES_ROW} times as large, and beside it at true size"
    y_mm = _draw_head(sheet, lead)
    foot_mm = draw_foot(sheet, chart.program_version)
    step_mm = sheet.width_mm / max(len(chart.cells), 1)
    end_mm = foot_mm - 3.0
    y_mm = _draw_grounds(sheet, chart, (y_mm, end_mm), step_mm)
    looks_pt = _looks_pt(sheet, chart, step_mm - _GAP_MM, end_mm - y_mm - 2.0)
    for number, cell in enumerate(chart.cells):
        x_mm = EDGE_MM + number * step_mm + _GAP_MM / 2.0
        _draw_column(sheet, chart, cell, (x_mm, y_mm, step_mm - _GAP_MM), looks_pt)


def _spans(limits: Limits) -> tuple[tuple[str, float, float, QColor], ...]:
    """Return the usable and the best span: word, ages, ground."""
    usable, best = span_colours(PRINT)
    return (
        ("usable", limits.young_h, limits.old_h, usable),
        ("best", limits.best_young_h, limits.best_old_h, best),
    )


def _draw_grounds(
    sheet: Sheet, chart: AgeChart, span_mm: tuple[float, float], step_mm: float
) -> float:
    """Draw the usable and the best span behind their stages; return where these begin, mm."""
    top_mm, end_mm = span_mm
    words = sheet.words(_NAME_PT, bold=True)
    for row, (word, low_h, high_h, ground) in enumerate(_spans(chart.limits)):
        within = [k for k, cell in enumerate(chart.cells) if low_h <= cell.age_h <= high_h]
        if not within:
            continue
        inset_mm = 0.7 * row
        x_mm = EDGE_MM + within[0] * step_mm + inset_mm
        width_mm = (within[-1] + 1 - within[0]) * step_mm - 2.0 * inset_mm
        y_mm = top_mm + row * _BAR_MM
        sheet.pen(0.4)
        sheet.painter.setBrush(ground)
        sheet.painter.drawRect(sheet.box(x_mm, y_mm, width_mm, end_mm - y_mm - inset_mm))
        middle = sheet.at(x_mm + width_mm / 2.0, y_mm + _BAR_MM / 2.0)
        words.line(middle, f"{word} {span_text(low_h, high_h)}", Side.MIDDLE)
    return top_mm + 2.0 * _BAR_MM + 1.0


def _looks_pt(sheet: Sheet, chart: AgeChart, width_mm: float, room_mm: float) -> float:
    """Return the largest size at which what to look for fits under every cell."""
    size_pt, least_pt = _LOOKS_PT[1], _LOOKS_PT[0]
    while size_pt > least_pt and not all(
        _column_mm(sheet, chart, cell, width_mm, size_pt) <= room_mm for cell in chart.cells
    ):
        size_pt -= 0.25
    return size_pt


def _column_mm(
    sheet: Sheet, chart: AgeChart, cell: ChartCell, width_mm: float, looks_pt: float
) -> float:
    """Return the height of a column."""
    words, width_px = sheet.words(looks_pt), width_mm * sheet.px_per_mm
    age = sheet.words(looks_pt, bold=True).height_px(_age(cell, chart.limits), width_px)
    looks = words.height_px(cell.looks, width_px)
    return _head_mm(sheet) + (age + looks) / sheet.px_per_mm + 1.0


def _head_mm(sheet: Sheet) -> float:
    """Return the height of a column's cell, verdict and two lines of name."""
    name = 2.0 * sheet.words(_NAME_PT).line_px / sheet.px_per_mm
    return cell_mm(TIMES_ROW) + 1.0 + _VERDICT_MM + name + 1.0


def _draw_column(
    sheet: Sheet,
    chart: AgeChart,
    cell: ChartCell,
    place_mm: tuple[float, float, float],
    looks_pt: float,
) -> None:
    """Draw one stage: its cell twice, its verdict, its name, its age, what to look for."""
    x_mm, top_mm, width_mm = place_mm
    half_mm = PITCH_DEFAULT_MM * SHOWN_SHARE / 2.0
    high_mm = cell_mm(TIMES_ROW)
    draw_cell(sheet, cell, (x_mm + TIMES_ROW * half_mm, top_mm + high_mm / 2.0), TIMES_ROW)
    beside_mm = x_mm + 2.0 * TIMES_ROW * half_mm + 3.0 + half_mm
    draw_cell(sheet, cell, (beside_mm, top_mm + high_mm / 2.0), 1)
    y_mm = top_mm + high_mm + 1.0
    _draw_verdict(sheet, _mark(cell, chart.limits), (x_mm, y_mm + _VERDICT_MM / 2.0, width_mm))
    y_mm += _VERDICT_MM
    name = sheet.words(_NAME_PT, bold=True)
    name.wrapped(sheet.box(x_mm, y_mm, width_mm, 0.0), cell.title)
    y_mm = top_mm + _head_mm(sheet)
    age, looks = sheet.words(looks_pt, bold=True), sheet.words(looks_pt)
    height = age.wrapped(sheet.box(x_mm, y_mm, width_mm, 0.0), _age(cell, chart.limits))
    y_mm += height / sheet.px_per_mm + 1.0
    looks.wrapped(sheet.box(x_mm, y_mm, width_mm, 0.0), cell.looks)


def _draw_verdict(sheet: Sheet, mark: Mark, place_mm: tuple[float, float, float]) -> None:
    """Draw a sign and its word as large as the width allows."""
    x_mm, y_mm, width_mm = place_mm
    draw_mark(sheet, mark, (x_mm + 3.0, y_mm), 2.3)
    room = (width_mm - _WORD_MM) * sheet.px_per_mm
    share = room / sheet.words(_VERDICT_PT, bold=True).width_px(mark.word)
    words = sheet.words(_VERDICT_PT * min(1.0, 0.98 * share), bold=True)
    words.line(sheet.at(x_mm + _WORD_MM, y_mm), mark.word)


def _draw_large(sheet: Sheet, chart: AgeChart) -> None:
    """Draw all stages ten times as large in two rows."""
    spans = ", ".join(
        f"{word} {span_text(low, high)}" for word, low, high, _ in _spans(chart.limits)
    )
    y_mm = _draw_head(sheet, f"each cell {TIMES_LARGE} times as large; {spans}")
    foot_mm = draw_foot(sheet, chart.program_version)
    step_mm = sheet.width_mm / _N_COLUMNS
    row_mm = (foot_mm - 1.5 - y_mm) / 2.0
    for number, cell in enumerate(chart.cells):
        row, column = divmod(number, _N_COLUMNS)
        place = (EDGE_MM + column * step_mm, y_mm + row * row_mm, step_mm, row_mm)
        _draw_card(sheet, chart, cell, place)


def _draw_card(
    sheet: Sheet,
    chart: AgeChart,
    cell: ChartCell,
    place_mm: tuple[float, float, float, float],
) -> None:
    """Draw one stage ten times as large, its words in the corners that the cell leaves free."""
    x_mm, top_mm, width_mm, height_mm = place_mm
    painter, mark = sheet.painter, _mark(cell, chart.limits)
    grounds = [ground for _, low, high, ground in _spans(chart.limits) if low <= cell.age_h <= high]
    if grounds:
        sheet.pen(0.4)
        painter.setBrush(grounds[-1])
        painter.drawRect(sheet.box(x_mm + 0.5, top_mm + 0.5, width_mm - 1.0, height_mm - 1.0))
    high_mm = cell_mm(TIMES_LARGE)
    middle_mm, apex_mm = x_mm + width_mm / 2.0, top_mm + 1.2 + high_mm
    draw_cell(sheet, cell, (middle_mm, apex_mm - high_mm / 2.0), TIMES_LARGE)
    draw_mark(sheet, mark, (x_mm + 7.0, top_mm + 7.0), 4.2)
    is_egg = cell.age_h < 0.0
    name = f"{cell.title}, {_age(cell, chart.limits)}" if is_egg else cell.title
    words = sheet.words(15.0, bold=True)
    words.line(sheet.at(middle_mm, apex_mm + 6.2), name, Side.MIDDLE)
    corner_mm = apex_mm + 0.4
    if not is_egg:
        age = age_words(cell.age_h, chart.limits).replace(" ", NO_BREAK)
        sheet.words(20.0, bold=True).line(sheet.at(x_mm + 3.0, corner_mm), age)
        right = sheet.at(x_mm + width_mm - 3.0, corner_mm)
        sheet.words(14.0, bold=True).line(right, mark.word, Side.RIGHT)

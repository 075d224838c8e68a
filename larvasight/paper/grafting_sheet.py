"""One page for the day of grafting: what to expect, what to take, where it went."""

from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import Qt
from PySide6.QtGui import QPen

from larvasight.geometry import PITCH_DEFAULT_MM
from larvasight.grading import Limits, age_words, true_grade
from larvasight.paper.age_chart_parts import (
    EDGE_MM,
    SHOWN_SHARE,
    ChartCell,
    cell_mm,
    draw_cell,
    draw_mark,
)
from larvasight.paper.expected_strip import draw_expected_strip, expected_strip_height_px
from larvasight.paper.lettering import NO_BREAK, Side
from larvasight.paper.marks import GRADE_MARKS
from larvasight.paper.pages import Upright, upright_pdf
from larvasight.paper.report import PRINT
from larvasight.sheet import Grade
from larvasight.timetable import NamedPlan, Start
from larvasight.timetable.cautions import GRAFTING_DAY
from larvasight.timetable.days import moment_words
from larvasight.timetable.facts import ROOM_HUMIDITY, ROOM_LEAST_C, ROOM_MOST_C
from larvasight.timetable.spec import ages_at_graft
from larvasight.timetable.telling import START_EVENTS, advice, ages_words

TIMES_LARGE = 3
_TITLE_PT, _DAY_PT, _LEAD_PT, _BODY_PT, _SMALL_PT = 15.0, 26.0, 13.0, 12.0, 9.6
_STRIP_PT = 12.0
_CUP_MM, _CUP_ROW_MM, _CUP_MOST_MM = 9.2, 10.4, 7.4
_NAME_MM = 34.0
_FEW_BARS = 3
_LINE_MM, _LOW_LINE_MM = 9.0, 7.4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GraftingSheet:
    """What stands on the page; of the age chart's ``cells`` those near the span are shown."""

    named: NamedPlan
    limits: Limits
    cells: tuple[ChartCell, ...]
    made_on: date
    program_version: str


def grafting_sheet_pdf(sheet: GraftingSheet) -> bytes:
    """Return the page as a PDF of one A4 page."""
    return upright_pdf(
        lambda page, _number: draw_grafting_sheet(page, sheet),
        n_pages=1,
        title=f"Grafting day, {sheet.named.name}",
        made_on=sheet.made_on,
        program_version=sheet.program_version,
    )


def draw_grafting_sheet(page: Upright, sheet: GraftingSheet) -> None:
    """Draw the page from its top; the cautions stand at its foot."""
    y_mm = _draw_head(page, sheet)
    y_mm = _draw_expected(page, sheet, y_mm)
    y_mm = _draw_pictures(page, sheet, y_mm + 1.5)
    y_mm = _draw_cups(page, sheet, y_mm + 2.0)
    foot_mm = _draw_cautions(page, sheet)
    line_mm = _LINE_MM if sheet.named.plan.spec.n_bars <= _FEW_BARS else _LOW_LINE_MM
    _draw_lines(page, (y_mm + 1.0, foot_mm - 2.0), line_mm)


def _draw_head(page: Upright, sheet: GraftingSheet) -> float:
    plan = sheet.named.plan
    spec = plan.spec
    small = page.words(_TITLE_PT, faint=True)
    y_mm = EDGE_MM + 3.0
    small.line(page.at(EDGE_MM, y_mm), "Grafting day")
    name = small.elided(sheet.named.name, 0.6 * page.width_mm * page.px_per_mm)
    small.line(page.at(page.right_mm, y_mm), name, Side.RIGHT)
    y_mm += 10.5
    day = page.words(_DAY_PT, bold=True)
    at = plan.graft_at
    told = moment_words(at).replace(", ", f" {at.year}, ")
    day.line(page.at(EDGE_MM, y_mm), told)
    y_mm += 6.5
    start = f"{START_EVENTS[spec.start]} {spec.lead_h:.0f}{NO_BREAK}h before"
    if spec.start is Start.CONFINED:
        start += f", for {spec.caged_h:.0f}{NO_BREAK}h"
    room_px = _NAME_MM * page.px_per_mm
    breeder, starter = (
        page.words(_BODY_PT).elided(name, room_px) or "." * 22
        for name in (spec.breeder, spec.starter)
    )
    colonies = [f"breeder: {breeder}", f"starter: {starter}"]
    y_mm = page.text(f"{start};  {';  '.join(colonies)}", _BODY_PT, (EDGE_MM, y_mm))
    page.rule(y_mm + 1.2)
    return y_mm + 2.5


def _draw_expected(page: Upright, sheet: GraftingSheet, y_mm: float) -> float:
    plan, limits = sheet.named.plan, sheet.limits
    y_mm = page.text("Of all brood on the comb, expect:", _BODY_PT, (EDGE_MM, y_mm), bold=True)
    text_px = _STRIP_PT * 25.4 / 72.0 * page.px_per_mm
    height_mm = expected_strip_height_px(text_px) / page.px_per_mm
    draw_expected_strip(
        page.painter,
        page.box(EDGE_MM, y_mm, page.width_mm, height_mm),
        ages_at_graft(plan.spec),
        plan.ages,
        limits=limits,
        inks=PRINT,
        text_px=text_px,
    )
    words = f"{ages_words(plan.spec, plan.ages, limits)} {advice(plan.spec, limits)[0]}"
    return page.text(words, _BODY_PT, (EDGE_MM, y_mm + height_mm + 1.0))


def _shown(sheet: GraftingSheet) -> list[ChartCell]:
    """Return the larvae of usable ages, the youngest first, and the first one too old."""
    larvae = [cell for cell in sheet.cells if cell.age_h >= 0.0]
    usable = [cell for cell in larvae if _grade(cell, sheet) is Grade.TAKE]
    older = [cell for cell in larvae if _grade(cell, sheet) is Grade.TOO_OLD]
    return [*usable[:3], *older[:1]]


def _grade(cell: ChartCell, sheet: GraftingSheet) -> Grade:
    return true_grade(cell.age_h, sheet.limits)


def _draw_pictures(page: Upright, sheet: GraftingSheet, y_mm: float) -> float:
    """Draw what to take and what to leave, three times as large and at life size."""
    shown = _shown(sheet)
    bold, words = page.words(_BODY_PT, bold=True), page.words(_SMALL_PT + 0.6)
    told = f"Each larva {TIMES_LARGE} times as large, and at life size beside it"
    words.line(page.at(EDGE_MM, y_mm + 2.2), told)
    y_mm += 5.0
    step_mm = page.width_mm / max(len(shown), 1)
    high_mm = cell_mm(TIMES_LARGE)
    half_mm = PITCH_DEFAULT_MM * SHOWN_SHARE / 2.0
    for number, cell in enumerate(shown):
        x_mm = EDGE_MM + number * step_mm
        middle_mm = y_mm + high_mm / 2.0
        draw_cell(page, cell, (x_mm + TIMES_LARGE * half_mm, middle_mm), TIMES_LARGE)
        beside_mm = x_mm + 2.0 * TIMES_LARGE * half_mm + 2.0
        draw_cell(page, cell, (beside_mm + half_mm, middle_mm), 1)
        text_mm = beside_mm + 2.0 * half_mm + 2.0
        mark = GRADE_MARKS[_grade(cell, sheet)]
        draw_mark(page, mark, (text_mm + 2.0, y_mm + 4.0), 1.9)
        word = mark.word if step_mm > 40.0 else ""
        bold.line(page.at(text_mm + 5.4, y_mm + 4.0), word)
        age = age_words(cell.age_h, sheet.limits).replace(" ", NO_BREAK)
        told = f"{cell.title}, {age}"
        place = (text_mm, y_mm + 7.6, EDGE_MM + (number + 1) * step_mm - text_mm - 1.0)
        page.text_in(told, _SMALL_PT + 0.6, place)
    return y_mm + high_mm


def _draw_cups(page: Upright, sheet: GraftingSheet, y_mm: float) -> float:
    """Draw a ring for each cup, bar by bar as they hang, every fifth numbered."""
    spec = sheet.named.plan.spec
    y_mm = page.text(
        "Cups as they hang, the side with your mark to the left. / grafted   O left out   "
        "X accepted (next day)",
        _BODY_PT,
        (EDGE_MM, y_mm),
    )
    label_mm = 13.0
    step_mm = min((page.width_mm - label_mm) / spec.cups_per_bar, _CUP_MM + 2.0)
    radius_mm = min(_CUP_MOST_MM, step_mm - 1.0) / 2.0
    number = page.words(_SMALL_PT, faint=True)
    y_mm += 1.0
    for bar in range(spec.n_bars):
        middle_mm = y_mm + 3.6 + _CUP_ROW_MM * (bar + 0.5)
        page.words(_BODY_PT, bold=True).line(page.at(EDGE_MM, middle_mm), f"Bar {bar + 1}")
        for cup in range(spec.cups_per_bar):
            x_mm = EDGE_MM + label_mm + step_mm * (cup + 0.5)
            if bar == 0 and (cup == 0 or (cup + 1) % 5 == 0):
                number.line(page.at(x_mm, y_mm + 2.0), str(cup + 1), Side.MIDDLE)
            page.pen(0.35)
            page.painter.setBrush(Qt.BrushStyle.NoBrush)
            radius_px = radius_mm * page.px_per_mm
            page.painter.drawEllipse(page.at(x_mm, middle_mm), radius_px, radius_px)
    return y_mm + 3.6 + _CUP_ROW_MM * spec.n_bars


def _draw_lines(page: Upright, span_mm: tuple[float, float], line_mm: float) -> None:
    """Draw lines to be filled in with a pencil, as many as there is room for."""
    room = f"Room ({ROOM_LEAST_C.value:.0f} to {ROOM_MOST_C.value:.0f} °C)"
    humid = f"Damp (over {100.0 * ROOM_HUMIDITY.value:.0f} %)"
    rows = (
        ("Comb out at", "Comb back at", "Bar in at"),
        (room, humid, "Grafted by"),
        ("Accepted, counted", "Sealed on", "Light, lens, tool"),
        ("Notes",),
        ("",),
    )
    y_mm, foot_mm = span_mm
    for row in rows:
        if y_mm + line_mm > foot_mm:
            return
        y_mm += line_mm
        width_mm = page.width_mm / len(row)
        for k, told in enumerate(row):
            x_mm = EDGE_MM + k * width_mm
            words = page.words(_BODY_PT)
            box = words.line(page.at(x_mm, y_mm - 2.2), told)
            page.painter.setPen(QPen(Qt.GlobalColor.black, 0.2 * page.px_per_mm))
            begin_mm = box.right() / page.px_per_mm + 1.5
            end_mm = x_mm + width_mm - 3.0
            page.painter.drawLine(page.at(begin_mm, y_mm), page.at(end_mm, y_mm))


def _draw_cautions(page: Upright, sheet: GraftingSheet) -> float:
    """Draw the cautions in two columns at the foot; return where they begin, mm."""
    gap_mm = 6.0
    width_mm = (page.width_mm - gap_mm) / 2.0
    # Large where bars leave room for it.
    size_pt = _SMALL_PT if sheet.named.plan.spec.n_bars > _FEW_BARS else _SMALL_PT + 1.6
    words = page.words(size_pt)
    heights = [
        words.height_px(text, width_mm * page.px_per_mm) / page.px_per_mm + 0.9
        for text in GRAFTING_DAY
    ]
    cut = min(range(1, len(heights)), key=lambda k: max(sum(heights[:k]), sum(heights[k:])))
    tall_mm = max(sum(heights[:cut]), sum(heights[cut:]))
    top_mm = page.bottom_mm - tall_mm - 4.0
    page.rule(top_mm - 1.0)
    for column, texts in enumerate((GRAFTING_DAY[:cut], GRAFTING_DAY[cut:])):
        y_mm = top_mm
        for text in texts:
            place = (EDGE_MM + column * (width_mm + gap_mm), y_mm, width_mm)
            y_mm = page.text_in(text, size_pt, place) + 0.9
    small = page.words(8.5, faint=True)
    told = (
        f"larvasight {sheet.program_version}. Pictures are drawn by computer; larvae of one age "
        "differ."
    )
    small.line(page.at(EDGE_MM, page.bottom_mm - 1.0), told)
    return top_mm - 1.0

"""A learner's page: one page whatever is on it, plain words, written whole or not at all."""

import math
import re
from dataclasses import replace
from datetime import UTC, date, datetime
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PySide6.QtCore import QBuffer, QIODevice, QRectF, QSize
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgGenerator

from larvasight.errors import OutputFolderError
from larvasight.grading import Limits
from larvasight.paper.line_words import next_sentence, oldest_words
from larvasight.paper.pdf_bytes import with_fixed_date
from larvasight.paper.qt import ensure_application
from larvasight.paper.report import LearnerReport, draw_report, report_pdf, save_report
from larvasight.paper.report_words import CAUTIONS, main_figures, pace_text
from larvasight.practice import CONTENT_CODES, AnswerTable, say_next, summarise
from larvasight.practice.line import line_of
from larvasight.practice.stages import Stage, stage_table
from larvasight.sheet import Content

PAGE = (2480, 3508)
MADE_ON = date(2026, 6, 14)
LONG = "Maximiliana-Theodora Freifrau von und zu Hohenlinden-Kesselbrunn, evening class " * 3
KINDS = tuple(map(CONTENT_CODES.index, (Content.LARVA, Content.EGG, Content.EMPTY)))


def table_of(n, n_days, *, take=True, seed=1):
    rng = np.random.default_rng(seed)
    content = rng.choice(KINDS, n, p=[0.7, 0.2, 0.1]).astype(np.int8)
    age_h = np.where(content == KINDS[0], rng.uniform(0.0, 80.0, n), math.nan)
    age_h = np.where(content == KINDS[1], rng.uniform(-70.0, 0.0, n), age_h)
    chance = np.where(age_h > 0.0, 1.0 / (1.0 + np.exp((age_h - 33.0) / 6.0)), 0.1)
    day = np.sort(rng.integers(0, n_days, n))
    return AnswerTable(
        answered_utc_ms=int(datetime(2026, 3, 3, 9, tzinfo=UTC).timestamp() * 1000)
        + day * 86_400_000,
        content=content,
        age_h=age_h,
        looks_age_h=np.where(age_h >= 0.0, age_h + rng.normal(0.0, 2.0, n), math.nan),
        is_plain=rng.random(n) < 0.97,
        taken=(rng.random(n) < chance) & take,
        response_ms=np.where(rng.random(n) < 0.9, rng.lognormal(7.8, 0.5, n), math.nan),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def told_of(n, n_days, *, take=True, seed=1):
    """Return progress and line of such a table."""
    table = table_of(n, n_days, take=take, seed=seed)
    progress = summarise(table, UTC)
    return progress, line_of(table, progress, UTC, MADE_ON)


def report_of(told, name="Ottilie Wabenfeld"):
    progress, line = told
    return LearnerReport(
        name=name,
        made_on=MADE_ON,
        limits=Limits(),
        progress=progress,
        line=line,
        program_version="0.1.0",
    )


REPORTS = {
    "none": report_of(told_of(0, 1)),
    "too few": report_of(told_of(12, 1)),
    "one day": report_of(told_of(60, 1)),
    "no picks": report_of(told_of(60, 2, take=False)),
    "many": report_of(told_of(5000, 100)),
    "long name": report_of(told_of(5000, 100), LONG),
    "unbroken name": report_of(told_of(900, 14), "w" * 400),
    "no name": report_of(told_of(900, 400), " \n"),
}
any_report = pytest.mark.parametrize("report", REPORTS.values(), ids=REPORTS.keys())


def drawn_words(report):
    """Return each drawn line of words with its place, from an SVG of the page."""
    ensure_application()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setSize(QSize(*PAGE))
    generator.setViewBox(QRectF(0, 0, *PAGE))
    painter = QPainter(generator)
    draw_report(painter, report)
    painter.end()
    root = ET.fromstring(bytes(buffer.data().data()))
    found = [
        ("".join(element.itertext()), float(element.get("x")), float(element.get("y")))
        for element in root.iter("{http://www.w3.org/2000/svg}text")
    ]
    return [(text.replace("\N{NO-BREAK SPACE}", " ").strip(), x, y) for text, x, y in found]


def page_text(report):
    return " ".join(text for text, _, _ in drawn_words(report))


@any_report
def test_every_report_is_one_a4_page_with_its_font(report):
    pdf = report_pdf(report)
    assert pdf.startswith(b"%PDF-1.")
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    assert re.search(rb"/MediaBox \[0(?:\.0*)? 0(?:\.0*)? 595(?:\.0*)? 842(?:\.0*)?\]", pdf)
    fonts = set(re.findall(rb"/FontName /[A-Z]{6}\+([\w-]+)", pdf))
    assert fonts == {b"AtkinsonHyperlegibleNext-Regular", b"AtkinsonHyperlegibleNext-Bold"}
    assert len(re.findall(rb"/FontFile2", pdf)) == 2
    assert b"/Subtype /Image" not in pdf


@any_report
def test_nothing_runs_into_the_margins(report):
    ensure_application()
    image = QImage(*PAGE, QImage.Format.Format_RGB32)
    image.fill(QColor("#ffffff"))
    painter = QPainter(image)
    draw_report(painter, report)
    painter.end()
    data = np.frombuffer(image.constBits(), np.uint8).reshape(PAGE[1], PAGE[0], 4)
    inked = (data[..., :3] < 250).any(axis=2)
    rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    mm = 300 / 25.4
    assert columns.min() > 17.5 * mm
    assert columns.max() < 192.5 * mm
    assert rows.min() > 14 * mm
    assert rows.max() < 286 * mm


@any_report
def test_charts_end_before_the_notes_begin(report):
    words = drawn_words(report)
    notes = next(y for text, _, y in words if text == "What these numbers cannot tell")
    second = next(y for text, _, y in words if text == "Which ages you take")
    first = next(y for text, _, y in words if text.startswith("Of the larvae you took"))
    follows = min(y for text, _, y in words if text.startswith("Practice in"))
    line = next(y for text, _, y in words if text == "Where your eye draws the line")
    assert follows < line < first <= second < notes
    # Room enough for plots that can be read.
    if report.line.is_enough:
        assert second - line > 45 * 300 / 25.4
        caption = max(y for text, _, y in words if text.startswith("hours after hatching"))
        assert second + 40 * 300 / 25.4 < caption < notes - 4 * 300 / 25.4


def test_the_page_says_the_figures_in_plain_words():
    report = REPORTS["many"]
    score, text = report.progress.score, page_text(report)
    assert "Ottilie Wabenfeld" in text
    assert "14 June 2026" in text
    assert f"{score.n_answers:,} cells judged" in text
    assert f"{score.n_right:,} of {score.n_picks:,} taken were young enough" in text
    low, high = 100 * score.right.lo, 100 * score.right.hi
    assert f"(about {low:.0f}\N{EN DASH}{high:.0f} %)" in text
    assert f"{score.n_too_old:,} taken too old" in text
    assert f"{score.n_egg:,} eggs taken" in text
    assert f"{score.n_missed:,} of {score.n_good:,} right ones left" in text
    assert say_next(report.progress) in text
    assert next_sentence(report.line, MADE_ON).replace("\N{NO-BREAK SPACE}", " ") in text
    assert oldest_words(report.line.old, Limits()).replace("\N{NO-BREAK SPACE}", " ") in text
    assert "The oldest you take, day by day" in text
    assert "larvasight 0.1.0" in text
    assert f"Usable 6{chr(0x2013)}30 h, best 12{chr(0x2013)}24 h" in text


def test_stages_confused_are_said_once_enough_cells_were_named():
    def with_named(n_wrong, n_right):
        true = [Stage.CLOSED_C] * (n_wrong + n_right)
        named = [Stage.RIGHT_AGE] * n_wrong + [Stage.CLOSED_C] * n_right
        return page_text(replace(REPORTS["many"], stages=stage_table(true, named)))

    said = "Most often you called a closed C of the right age: 3 times."
    assert said in with_named(3, 20)
    assert said not in with_named(3, 16)
    assert "Most often" not in with_named(0, 30)


@any_report
def test_every_page_carries_the_cautions(report):
    text = page_text(report)
    for caution in CAUTIONS:
        assert caution.replace("\N{NO-BREAK SPACE}", " ") in text


@any_report
def test_no_word_of_statistics_is_printed(report):
    text = page_text(report).lower()
    for word in ("confidence", "posterior", "interval", "sensitiv", "criterion", "significan"):
        assert word not in text
    assert "nan" not in re.findall(r"[a-z]+", text)


def test_too_few_cells_tell_their_count_and_nothing_else():
    report = REPORTS["too few"]
    text = page_text(report)
    assert "12 of 40 cells judged: too few to tell anything yet" in text
    assert "Too few to tell: 12 of 40 cells." in text
    assert "The oldest you take" not in text
    assert "%" not in text
    assert "eggs taken" not in text


def test_a_long_name_keeps_two_lines_and_ends_in_dots():
    words = drawn_words(REPORTS["long name"])
    lines = [text for text, _, y in words if 250 < y < 460]
    assert len(lines) == 2
    assert lines[0].startswith("Maximiliana-Theodora")
    assert lines[1].endswith("\N{HORIZONTAL ELLIPSIS}")


def test_no_picks_is_said_without_a_share():
    figures = main_figures(REPORTS["no picks"].progress)
    assert [figure.value for figure in figures] == ["60", "0"]
    assert "%" not in figures[1].words


@pytest.mark.parametrize(
    ("pace_ms", "text"),
    [(820.0, "0.8 s"), (9940.0, "9.9 s"), (9960.0, "10 s"), (61000.0, "61 s"), (180000.0, "3 min")],
)
def test_a_pace_has_the_digits_that_matter(pace_ms, text):
    assert pace_text(pace_ms).replace("\N{NO-BREAK SPACE}", " ") == text


def test_an_unknown_pace_is_left_out():
    progress, line = told_of(60, 2)
    unknown = replace(progress, score=replace(progress.score, pace_ms=math.nan))
    assert "for a usual cell" in page_text(report_of((progress, line)))
    assert "for a usual cell" not in page_text(report_of((unknown, line)))


def test_the_same_report_gives_the_same_file():
    assert report_pdf(REPORTS["many"]) == report_pdf(REPORTS["many"])
    pdf = report_pdf(REPORTS["many"])
    assert b"/CreationDate (D:20260614000000" in pdf
    assert b'xmp:CreateDate="2026-06-14T00:00:00' in pdf


def test_fixing_the_date_moves_nothing():
    pdf = b"x/CreationDate (D:20301231235959+02'00')/ModDate (D:20301231235959Z)y"
    fixed = with_fixed_date(pdf, date(2026, 1, 2))
    assert fixed == b"x/CreationDate (D:20260102000000+02'00')/ModDate (D:20260102000000Z)y"


def test_a_report_is_written_and_replaces_an_older_one(tmp_path):
    path = tmp_path / "report.pdf"
    path.write_bytes(b"old")
    save_report(path, REPORTS["one day"])
    assert path.read_bytes() == report_pdf(REPORTS["one day"])
    assert [each.name for each in tmp_path.iterdir()] == ["report.pdf"]


def test_a_folder_that_is_not_there_is_one_sentence(tmp_path):
    with pytest.raises(OutputFolderError, match=r"^report\.pdf cannot be written: .+\.$"):
        save_report(tmp_path / "none" / "report.pdf", REPORTS["one day"])

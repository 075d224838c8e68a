"""A learner's line on paper: bars and dots stand at their hours, words say the same, few is few."""

from dataclasses import replace
from datetime import UTC, date
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from larvasight.errors import OutputFolderError
from larvasight.grading import Limits
from larvasight.paper.chart_files import chart_names, save_charts
from larvasight.paper.charts import draw_ages
from larvasight.paper.inks import DARK, LIGHT, span_colours
from larvasight.paper.line_days import draw_line_days
from larvasight.paper.line_strip import draw_line_strip, line_strip_height_px
from larvasight.paper.line_words import (
    few_sentence,
    moved_sentence,
    next_sentence,
    oldest_words,
    rough_sentence,
    youngest_words,
)
from larvasight.paper.qt import ensure_application
from larvasight.practice import CONTENT_CODES, AnswerTable, summarise
from larvasight.practice.line import LineDay, line_of
from larvasight.sheet import Content
from larvasight.stats import Estimate

SIZE = (640, 400)
BOX = QRectF(20, 20, 600, 360)
TODAY = date(2026, 6, 14)
LARVA = CONTENT_CODES.index(Content.LARVA)


def table_of(n, n_days=1, old_h=28.0, seed=1):
    rng = np.random.default_rng(seed)
    age_h = rng.uniform(0.0, 66.0, n)
    chance = 1.0 / (1.0 + np.exp((age_h - old_h) / 1.5)) / (1.0 + np.exp((5.0 - age_h) / 1.5))
    return AnswerTable(
        answered_utc_ms=1_780_000_000_000 + np.sort(rng.integers(0, n_days, n)) * 86_400_000,
        content=np.full(n, LARVA, dtype=np.int8),
        age_h=age_h,
        looks_age_h=age_h,
        is_plain=np.ones(n, dtype=np.bool_),
        taken=rng.random(n) < chance,
        response_ms=np.full(n, 2000.0),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def told(n, n_days=1, old_h=28.0):
    table = table_of(n, n_days, old_h)
    progress = summarise(table, UTC)
    return progress, line_of(table, progress, UTC, TODAY)


PROGRESS, LINE = told(400, 6)
FEW = told(39)[1]


def with_edges(young, old, line=LINE):
    made = [Estimate(value=(lo + hi) / 2.0, lo=lo, hi=hi) for lo, hi in (young, old)]
    return replace(line, young=made[0], old=made[1])


def drawn(draw, line, *, inks=LIGHT, box=BOX, text_px=16.0, limits=None):
    ensure_application()
    image = QImage(*SIZE, QImage.Format.Format_RGB32)
    image.fill(QColor(inks.paper))
    painter = QPainter(image)
    draw(painter, box, line, limits=limits or Limits(), inks=inks, text_px=text_px)
    painter.end()
    data = np.frombuffer(image.constBits(), np.uint8)
    return data.reshape(SIZE[1], SIZE[0], 4)[..., 2::-1].astype(int).copy()


def draw_curve(painter, box, line, *, limits, inks, text_px):
    draw_ages(painter, box, PROGRESS, inks=inks, text_px=text_px, limits=limits, line=line)


def of_colour(pixels, colour, within=3):
    return np.abs(pixels - np.array(QColor(colour).getRgb()[:3])).max(axis=2) <= within


def dots_xy(pixels, inks=LIGHT):
    """Return the middles of the upper and of the lower dot."""
    ys, xs = np.nonzero(of_colour(pixels, inks.accent))
    gap = np.argmax(np.diff(np.unique(ys)))
    split = np.unique(ys)[gap]
    return [(xs[half].mean(), ys[half].mean()) for half in (ys <= split, ys > split)]


ALL = pytest.mark.parametrize("draw", [draw_line_strip, draw_line_days, draw_curve])


@ALL
@pytest.mark.parametrize("inks", [LIGHT, DARK])
@pytest.mark.parametrize(("width", "text_px"), [(300, 18.0), (460, 24.0), (600, 14.0)])
@pytest.mark.parametrize("line", [LINE, FEW, with_edges((-6.5, 24.5), (12.0, 60.5))])
def test_nothing_is_drawn_outside_of_the_box(draw, inks, width, text_px, line):
    box = QRectF(20, 20, width, 340)
    pixels = drawn(draw, line, inks=inks, box=box, text_px=text_px)
    outside = np.ones(pixels.shape[:2], dtype=bool)
    outside[20:360, 20 : 20 + width] = False
    assert of_colour(pixels, inks.paper, 0)[outside].all()
    assert not of_colour(pixels, inks.paper, 0).all()


@pytest.mark.parametrize("draw", [draw_line_strip, draw_line_days])
def test_too_few_cells_draw_a_sentence_and_no_dot(draw):
    assert not of_colour(drawn(draw, FEW), LIGHT.accent).any()
    assert few_sentence(FEW) == "Too few to tell: 39 of 40 cells with a larva or an egg."


def test_both_dots_stand_at_their_hours_on_one_scale():
    (young_x, _), (old_x, _) = dots_xy(drawn(draw_line_strip, with_edges((8, 12), (38, 42))))
    (twelve_x, _), (thirty_x, _) = dots_xy(drawn(draw_line_strip, with_edges((10, 14), (28, 32))))
    hour_px = (old_x - young_x) / 30.0
    assert twelve_x - young_x == pytest.approx(2.0 * hour_px, abs=1.0)
    assert thirty_x - young_x == pytest.approx(20.0 * hour_px, abs=1.0)


def test_the_limit_ends_the_shade_where_a_dot_at_the_limit_stands():
    pixels = drawn(draw_line_strip, with_edges((4, 8), (28, 32)))
    (young_x, _), (old_x, y) = dots_xy(pixels)
    usable, _ = span_colours(LIGHT)
    shaded = np.flatnonzero(of_colour(pixels, usable)[round(y) + 9])
    assert shaded.min() == pytest.approx(young_x, abs=1.5)
    assert shaded.max() == pytest.approx(old_x, abs=1.5)


def test_a_bar_is_as_long_as_its_interval():
    lengths = []
    for half in (3.0, 6.0):
        pixels = drawn(draw_line_strip, with_edges((1, 3), (45 - half, 45 + half)))
        _, (x, y) = dots_xy(pixels)
        row = of_colour(pixels, LIGHT.ink, 60)[round(y)]
        ends = np.flatnonzero(row)
        lengths.append(np.ptp(ends))
        assert ends.mean() == pytest.approx(x, abs=3.0)
    assert lengths[1] == pytest.approx(2.0 * lengths[0], abs=4.0)


@ALL
@pytest.mark.parametrize("inks", [LIGHT, DARK])
@pytest.mark.reference("WCAG 2.2, success criterion 1.4.11: 3 to 1 for what is to be seen")
def test_dots_stand_out_from_every_ground_without_colour(draw, inks):
    assert of_colour(drawn(draw, LINE, inks=inks), inks.accent).any()

    def luminance(colour):
        channels = np.array(QColor(colour).getRgbF()[:3])
        linear = np.where(
            channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4
        )
        return linear @ [0.2126, 0.7152, 0.0722]

    usable, _ = span_colours(inks)
    for ground in (inks.paper, usable):
        low, high = sorted((luminance(inks.accent), luminance(ground)))
        assert (high + 0.05) / (low + 0.05) >= 3.0
        low, high = sorted((luminance(inks.ink), luminance(ground)))
        assert (high + 0.05) / (low + 0.05) >= 3.0


def test_a_later_edge_stands_higher_on_its_day():
    def day(number, value):
        edge = Estimate(value=value, lo=value - 2.0, hi=value + 2.0)
        when = date(2026, 5, number)
        return LineDay(first=when, last=when, n=60, old=edge)

    line = replace(LINE, days=(day(1, 20.0), day(5, 30.0), day(9, 40.0)))
    mask = of_colour(drawn(draw_line_days, line), LIGHT.accent)
    ys, xs = np.nonzero(mask)
    cuts = np.linspace(xs.min(), xs.max() + 1, 4)
    at = [ys[(xs >= a) & (xs < b)].mean() for a, b in pairwise(cuts)]
    assert at[0] - at[1] == pytest.approx(at[1] - at[2], abs=2.0)
    assert at[0] - at[1] > 30


def test_the_curve_is_drawn_with_the_cells_of_the_line():
    def ink(line):
        pixels = drawn(draw_curve, line)
        return of_colour(pixels[130:300], LIGHT.ink, 60).sum()

    assert ink(LINE) > ink(replace(LINE, curve=((0.0, 0.0),))) + 300


def test_a_taller_box_gives_the_bars_more_room():
    def apart(height):
        pixels = drawn(draw_line_strip, LINE, box=QRectF(20, 20, 600, height))
        (_, upper), (_, lower) = dots_xy(pixels)
        return lower - upper

    least = line_strip_height_px(16.0)
    assert apart(least) + 10 < apart(2.0 * least)
    assert apart(2.0 * least) == pytest.approx(apart(2.2 * least), abs=1.0)


@pytest.mark.parametrize(
    ("old", "words"),
    [
        ((26.6, 31.2), "The oldest you take: 27 to 31 h, perhaps past the limit of 30 h"),
        ((25.0, 28.0), "The oldest you take: 25 to 28 h, within the limit of 30 h"),
        ((33.0, 37.0), "The oldest you take: 33 to 37 h, past the limit of 30 h"),
        ((28.8, 29.3), "The oldest you take: about 29 h, within the limit of 30 h"),
        ((52.0, 60.4), "The oldest you take: 52 h or more, past the limit of 30 h"),
    ],
)
def test_the_oldest_is_said_as_a_band_against_the_limit(old, words):
    line = with_edges((3.0, 6.0), old)
    assert oldest_words(line.old, Limits()).replace("\N{NO-BREAK SPACE}", " ") == words


@pytest.mark.parametrize(
    ("young", "words"),
    [
        ((3.0, 6.6), "The youngest you take: 3 to 7 h"),
        ((-3.0, 4.0), "The youngest you take: 0 to 4 h"),
        ((-6.0, 0.2), "The youngest you take: eggs among them"),
        ((9.0, 12.0), "The youngest you take: 9 to 12 h; those from 6 h on would do"),
    ],
)
def test_the_youngest_is_said_as_a_band_from_hatching_on(young, words):
    line = with_edges(young, (26.0, 29.0))
    assert youngest_words(line.young, Limits()).replace("\N{NO-BREAK SPACE}", " ") == words


def test_a_move_is_told_only_where_it_is_sure():
    def said(value, lo, hi):
        moved = replace(LINE, moved=Estimate(value=value, lo=lo, hi=hi))
        return moved_sentence(moved).replace("\N{NO-BREAK SPACE}", " ")

    assert "has moved about 4 h to older larvae since" in said(4.0, 1.0, 7.0)
    assert "has moved about 5 h to younger larvae since" in said(-5.0, -7.0, -2.0)
    assert "has not surely moved since" in said(4.0, -1.0, 9.0)
    assert moved_sentence(replace(LINE, days=LINE.days[:1])).startswith("Whether it moves")


def test_a_gradual_line_is_said_to_be_rough():
    assert rough_sentence(replace(LINE, is_clear=True)) == ""
    assert "rough" in rough_sentence(replace(LINE, is_clear=False))
    assert rough_sentence(replace(FEW, is_clear=False)) == ""


def test_the_next_drill_is_said_with_its_day_and_why():
    said = next_sentence(LINE, LINE.next.day)
    assert said.startswith("Next drill today, about ")
    assert LINE.next.title in said
    assert said.endswith(LINE.next.why)
    assert ".." not in said
    assert "?." not in said
    later = next_sentence(LINE, LINE.next.day, 5.4)
    assert later == f"Today is not done yet: about 5\xa0minutes more, under Practise. {said}"
    assert next_sentence(LINE, LINE.next.day, 0.3) == said


def test_every_chart_is_written_as_png_and_as_svg(tmp_path):
    paths = save_charts(tmp_path, PROGRESS, LINE, limits=Limits())
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(chart_names())
    assert [path.name for path in paths] == list(chart_names())
    assert len(paths) == 8
    for png, svg in zip(paths[::2], paths[1::2], strict=True):
        assert png.stem == svg.stem
        assert QImage(str(png)).width() == 2400
        texts = " ".join("".join(e.itertext()) for e in ET.parse(svg).getroot().iter())
        assert png.stem in texts


def test_charts_of_too_few_cells_are_written_too(tmp_path):
    progress, line = told(12)
    for path in save_charts(tmp_path, progress, line, limits=Limits()):
        assert path.stat().st_size > 500


def test_a_folder_that_is_not_there_is_one_sentence(tmp_path):
    with pytest.raises(OutputFolderError, match="cannot be written"):
        save_charts(tmp_path / "none", PROGRESS, LINE, limits=Limits())

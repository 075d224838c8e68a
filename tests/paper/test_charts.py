"""Charts and the hour strip: what is drawn stands where its number says, and inside its box."""

import itertools
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from PySide6.QtCore import QBuffer, QIODevice, QRectF
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgGenerator

from larvasight.grading import Limits
from larvasight.paper.charts import (
    draw_ages,
    draw_days,
    draw_hour_strip,
    hour_strip_height_px,
    too_few_sentence,
)
from larvasight.paper.day_axis import date_marks, points_of
from larvasight.paper.inks import DARK, LIGHT, span_colours
from larvasight.paper.plot import Scale
from larvasight.paper.qt import ensure_application
from larvasight.practice import CONTENT_CODES, AnswerTable, summarise
from larvasight.sheet import Content
from larvasight.stats import wilson_interval

BOX = QRectF(20, 20, 560, 320)
LARVA, EGG = CONTENT_CODES.index(Content.LARVA), CONTENT_CODES.index(Content.EGG)
START = datetime(2026, 3, 3, 9, tzinfo=UTC)


def table_of(age_h, taken, day, *, start=START):
    age_h = np.asarray(age_h, dtype=np.float64)
    n = len(age_h)
    midnight_ms = int(start.timestamp() * 1000)
    return AnswerTable(
        answered_utc_ms=midnight_ms + np.asarray(day, dtype=np.int64) * 86_400_000,
        content=np.where(age_h < 0.0, EGG, LARVA).astype(np.int8),
        age_h=age_h,
        looks_age_h=np.where(age_h < 0.0, np.nan, age_h),
        is_plain=np.ones(n, dtype=np.bool_),
        taken=np.asarray(taken, dtype=np.bool_),
        response_ms=np.full(n, 2500.0),
        young_h=np.full(n, 6.0),
        old_h=np.full(n, 30.0),
    )


def random_progress(n, n_days, seed=1):
    rng = np.random.default_rng(seed)
    age_h = rng.uniform(-30.0, 72.0, n)
    taken = rng.random(n) < np.where(age_h < 0.0, 0.1, 1.0 / (1.0 + np.exp((age_h - 32.0) / 6.0)))
    return summarise(table_of(age_h, taken, np.sort(rng.integers(0, n_days, n))), UTC)


def picks_right(n_right, n=60):
    """One day on which every cell was taken, ``n_right`` of them of a right age."""
    age_h = np.where(np.arange(n) < n_right, 18.0, 60.0)
    return summarise(table_of(age_h, np.ones(n), np.zeros(n)), UTC)


def drawn(draw, progress, *, box=BOX, inks=LIGHT, text_px=18.0, size=(600, 360)):
    ensure_application()
    image = QImage(*size, QImage.Format.Format_RGB32)
    image.fill(QColor(inks.paper))
    painter = QPainter(image)
    draw(painter, box, progress, inks=inks, text_px=text_px)
    painter.end()
    return pixels_of(image)


def strip(*, width=320.0, text_px=20.0, inks=LIGHT, key=False, **ages):
    ensure_application()
    height = hour_strip_height_px(text_px, with_key=key)
    image = QImage(int(width) + 40, int(height) + 40, QImage.Format.Format_RGB32)
    image.fill(QColor(inks.paper))
    painter = QPainter(image)
    given = {"band_h": None, "true_age_h": None, "looks_age_h": None} | ages
    box = QRectF(20, 20, width, height)
    draw_hour_strip(painter, box, limits=Limits(), inks=inks, text_px=text_px, **given)
    painter.end()
    return pixels_of(image)


def pixels_of(image):
    data = np.frombuffer(image.constBits(), np.uint8)
    return data.reshape(image.height(), image.width(), 4)[..., 2::-1].astype(int).copy()


def rgb(colour):
    return np.array(QColor(colour).getRgb()[:3])


def of_colour(pixels, colour, within=3):
    return np.abs(pixels - rgb(colour)).max(axis=2) <= within


def dot_xy(pixels, inks=LIGHT):
    ys, xs = np.nonzero(of_colour(pixels, inks.accent))
    assert len(xs) > 20
    return xs.mean(), ys.mean()


def outside(pixels, box):
    mask = np.ones(pixels.shape[:2], dtype=bool)
    mask[int(box.top()) : int(box.bottom()), int(box.left()) : int(box.right())] = False
    return pixels[mask]


def test_half_right_stands_midway_between_none_and_all():
    x0, none = dot_xy(drawn(draw_days, picks_right(0)))
    x1, half = dot_xy(drawn(draw_days, picks_right(30)))
    x2, every = dot_xy(drawn(draw_days, picks_right(60)))
    assert x0 == pytest.approx(x1, abs=0.6)
    assert x1 == pytest.approx(x2, abs=0.6)
    assert half == pytest.approx((none + every) / 2.0, abs=0.6)
    assert none - every > 100


def test_the_line_reaches_as_far_as_its_interval():
    _, none = dot_xy(drawn(draw_days, picks_right(0)))
    _, every = dot_xy(drawn(draw_days, picks_right(60)))
    pixels = drawn(draw_days, picks_right(30))
    x, _ = dot_xy(pixels)
    column = pixels[:, round(x)]
    blue = np.flatnonzero(column[:, 2] - column[:, 0] > 60)
    interval = wilson_interval(30, 60)
    assert blue.min() == pytest.approx(none + (every - none) * interval.hi, abs=2.0)
    assert blue.max() == pytest.approx(none + (every - none) * interval.lo, abs=2.0)


@pytest.mark.parametrize("draw", [draw_days, draw_ages])
@pytest.mark.parametrize("inks", [LIGHT, DARK])
@pytest.mark.parametrize(("n", "n_days"), [(0, 1), (12, 1), (60, 2), (900, 30), (4000, 400)])
@pytest.mark.parametrize(("width", "text_px"), [(320, 18.0), (320, 24.0), (560, 16.0)])
def test_nothing_is_drawn_outside_of_the_box(draw, inks, n, n_days, width, text_px):
    box = QRectF(20, 20, width, 320)
    progress = random_progress(n, n_days)
    pixels = drawn(draw, progress, box=box, inks=inks, text_px=text_px)
    assert (outside(pixels, box) == rgb(inks.paper)).all()
    assert (pixels != rgb(inks.paper)).any()


@pytest.mark.parametrize("draw", [draw_days, draw_ages])
def test_words_at_the_edges_are_not_cut(draw):
    # A word cut off by the box would leave ink in its first or last column.
    pixels = drawn(draw, random_progress(900, 30), box=QRectF(20, 20, 560, 320))
    edges = pixels[20:340, [20, 579]]
    assert (np.abs(edges - rgb(LIGHT.paper)).max(axis=2) > 150).sum() < 6


@pytest.mark.parametrize("draw", [draw_days, draw_ages])
def test_too_few_cells_show_a_sentence_and_no_dot(draw):
    progress = random_progress(12, 1)
    assert too_few_sentence(progress) == "Too few to tell: 12 of 40 cells."
    assert not of_colour(drawn(draw, progress), LIGHT.accent).any()


def test_no_pick_at_all_shows_a_sentence_and_no_dot():
    progress = summarise(table_of(np.full(50, 18.0), np.zeros(50), np.zeros(50)), UTC)
    assert not of_colour(drawn(draw_days, progress), LIGHT.accent).any()


def test_eggs_stand_left_of_all_larvae_and_old_larvae_right():
    def x_of(age_h):
        progress = summarise(table_of(np.full(60, age_h), np.ones(60), np.zeros(60)), UTC)
        return dot_xy(drawn(draw_ages, progress))[0]

    eggs, young, middle, old = (x_of(age_h) for age_h in (-10.0, 2.0, 34.0, 66.0))
    assert eggs + 30 < young
    assert middle == pytest.approx((young + old) / 2.0, abs=1.0)


@pytest.mark.parametrize("inks", [LIGHT, DARK])
def test_the_bands_show_and_differ_without_colour(inks):
    pixels = drawn(draw_ages, random_progress(900, 30), inks=inks)
    usable, best = span_colours(inks)
    assert of_colour(pixels, usable).sum() > 2000
    assert of_colour(pixels, best).sum() > 2000
    greys = [luminance(colour) for colour in (inks.paper, usable, best)]
    ratios = [
        max(a + 0.05, b + 0.05) / min(a + 0.05, b + 0.05) for a, b in itertools.pairwise(greys)
    ]
    assert min(ratios) > 1.14


# Of graphics this holds for signs and dots, which are drawn in ink and accent as they are.
@pytest.mark.reference("WCAG 2.2, success criteria 1.4.3 (words) and 1.4.11 (signs and dots)")
@pytest.mark.parametrize("inks", [LIGHT, DARK])
def test_words_signs_and_dots_stand_out_from_their_ground(inks):
    for ground in (inks.paper, *span_colours(inks)):
        assert contrast(inks.ink, ground) >= 4.5
        assert contrast(inks.accent, ground) >= 3.0
    assert contrast(inks.faint, inks.paper) >= 4.5


def luminance(colour):
    parts = rgb(colour) / 255.0
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def progress_over(n_days, *, every=1, start=START):
    days = np.repeat(np.arange(0, n_days, every), 20)
    ages = np.tile(np.linspace(8.0, 44.0, 20), len(days) // 20)
    return summarise(table_of(ages, np.ones(len(days)), days, start=start), UTC)


@pytest.mark.parametrize("n_days", [1, 2, 3, 7, 12, 30, 45, 90, 100, 180, 365, 400])
@pytest.mark.parametrize("width_px", [220.0, 500.0, 1800.0])
@pytest.mark.parametrize("every", [1, 3])
def test_dates_never_run_into_each_other(n_days, width_px, every):
    points = points_of(progress_over(n_days, every=every).days, width_px, 8.0)
    first, last = points.all[0].day, points.all[-1].day
    days = Scale(low=first - 1, high=last + 1, low_px=0.0, high_px=width_px)
    marks = date_marks(points, days, lambda text: 9.0 * len(text), 10.0)
    spots = [(days.at(mark.ordinal), 4.5 * len(mark.label)) for mark in marks]
    assert marks
    assert len(marks) <= width_px / 40.0
    for (x1, half1), (x2, half2) in itertools.pairwise(spots):
        assert x1 + half1 + 10.0 <= x2 - half2
    assert [mark.year for mark in marks if mark.year] == sorted(
        {str(date.fromordinal(mark.ordinal).year) for mark in marks}
    )


def test_few_days_are_all_named():
    points = points_of(progress_over(10, every=3).days, 500.0, 8.0)
    days = Scale(low=points.all[0].day, high=points.all[-1].day, low_px=0.0, high_px=500.0)
    marks = date_marks(points, days, lambda text: 9.0 * len(text), 10.0)
    assert [mark.label for mark in marks] == ["3 Mar", "6 Mar", "9 Mar", "12 Mar"]
    assert [mark.year for mark in marks] == ["2026", None, None, None]


@pytest.mark.parametrize(
    ("n_days", "unit", "n_points"), [(30, "day", 30), (100, "week", 15), (400, "month", 14)]
)
def test_crowded_days_are_put_together_and_none_is_lost(n_days, unit, n_points):
    progress = progress_over(n_days)
    points = points_of(progress.days, 250.0, 8.0)
    assert points.unit == unit
    assert len(points.all) == n_points
    assert sum(point.n_picks for point in points.all) == progress.score.n_picks
    assert sum(point.n_right for point in points.all) == progress.score.n_right
    centres = [point.day for point in points.all]
    assert centres == sorted(centres)
    assert centres[0] >= START.date().toordinal()
    assert centres[-1] <= (START + timedelta(days=n_days)).date().toordinal()


def pointer_x(pixels):
    """Return the x of the darkest tip just over the strip's hours."""
    rows = np.flatnonzero(of_colour(pixels, LIGHT.ink, 20).any(axis=1))
    # Above the strip stand only the label and, touching the strip, the pointer.
    ground = np.flatnonzero(of_colour(pixels, span_colours(LIGHT)[1]).sum(axis=1) > 20)
    assert rows.min() < ground.min()
    above = of_colour(pixels, LIGHT.ink, 20)[ground.min() - 5 : ground.min()]
    return np.nonzero(above)[1].mean()


def test_the_true_age_points_at_its_hour():
    low, middle, high = (pointer_x(strip(true_age_h=age_h)) for age_h in (6.0, 30.0, 54.0))
    assert middle == pytest.approx((low + high) / 2.0, abs=0.6)
    usable = of_colour(strip(), span_colours(LIGHT)[0])
    columns = np.flatnonzero(usable.sum(axis=0) > 10)
    assert low == pytest.approx(columns.min(), abs=1.5)
    assert middle == pytest.approx(columns.max() + 1, abs=1.5)


def test_the_strip_reaches_further_only_where_an_age_needs_it():
    usual = pointer_x(strip(true_age_h=24.0))
    assert pointer_x(strip(true_age_h=24.0, looks_age_h=60.0)) == pytest.approx(usual, abs=0.5)
    assert pointer_x(strip(true_age_h=24.0, band_h=(50.0, 70.0))) < usual - 40
    assert pointer_x(strip(true_age_h=24.0, looks_age_h=-1.0)) > usual + 10


def test_an_egg_far_from_hatching_has_an_arrow_instead_of_a_pointer():
    near, far = strip(true_age_h=-12.0, width=500.0), strip(true_age_h=-40.0, width=500.0)
    ground = np.flatnonzero(of_colour(near, span_colours(LIGHT)[1]).sum(axis=1) > 20)
    rows = slice(ground.min(), ground.min() + 6)
    assert of_colour(near, LIGHT.ink, 20)[rows].any()
    assert not of_colour(far, LIGHT.ink, 20)[rows].any()


def test_the_band_is_a_bar_as_long_as_its_hours():
    pixels = strip(band_h=(12.0, 24.0))
    best = np.flatnonzero(of_colour(pixels, span_colours(LIGHT)[1]).sum(axis=0) > 10)
    runs = of_colour(pixels, LIGHT.ink, 20).sum(axis=1)
    assert runs.max() == pytest.approx(best.max() - best.min() + 1, abs=2)


@pytest.mark.parametrize("text_px", [18.0, 24.0])
@pytest.mark.parametrize("inks", [LIGHT, DARK])
@pytest.mark.parametrize(
    "ages",
    [
        {},
        {"band_h": (17.0, 25.0), "true_age_h": 21.0, "looks_age_h": 23.0},
        {"band_h": (0.0, 3.0), "true_age_h": 0.0},
        {"band_h": (90.0, 96.0), "true_age_h": 110.0},
        {"true_age_h": -60.0},
    ],
)
def test_the_strip_stays_in_its_box_at_320_px(text_px, inks, ages):
    pixels = strip(text_px=text_px, inks=inks, key=True, **ages)
    height = pixels.shape[0] - 40
    assert (outside(pixels, QRectF(20, 20, 320, height)) == rgb(inks.paper)).all()


def test_a_high_box_names_the_two_shades():
    plain, with_key = strip(), strip(key=True)
    assert of_colour(with_key, LIGHT.faint, 20).sum() > of_colour(plain, LIGHT.faint, 20).sum() + 50


def test_an_svg_keeps_words_as_words():
    ensure_application()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setViewBox(QRectF(0, 0, 600, 360))
    painter = QPainter(generator)
    draw_ages(painter, BOX, random_progress(900, 30), inks=LIGHT, text_px=18.0)
    painter.end()
    text = bytes(buffer.data().data()).decode()
    for word in ("Which ages you take", "usable", "best", "eggs"):
        assert f">{word}<" in text
    assert "<image" not in text

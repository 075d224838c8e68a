"""Charts of grafts draw what they are given, inside their room, at any size."""

from datetime import date, timedelta

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from larvasight.grading import Limits
from larvasight.grafts import Cup, Fate, Stage
from larvasight.grafts.acceptance import DayTakes, EyeDay, steps_of, takes_of
from larvasight.paper.eye_chart import draw_eye_and_takes, eye_height_px
from larvasight.paper.grafts_charts import (
    draw_levels,
    draw_steps,
    draw_takes,
    levels_height_px,
    steps_height_px,
)
from larvasight.paper.inks import DARK, LIGHT
from larvasight.paper.qt import ensure_application
from larvasight.stats import Estimate

TEXT_PX = 16.0


def cups(n_accepted, n_known):
    made = [Cup(number=k + 1, reached=Stage.ACCEPTED) for k in range(n_accepted)]
    return made + [Cup(number=k + 1, fate=Fate.LOST) for k in range(n_accepted, n_known)]


def days(*counts, every_days=7):
    first = date(2027, 5, 1)
    return [
        DayTakes(day=first + timedelta(days=every_days * k), takes=takes_of(cups(*count)))
        for k, count in enumerate(counts)
    ]


def draw(what, given, width=600, height=320, inks=LIGHT):
    """Return what is drawn as an array, and whether anything lies outside of the room."""
    ensure_application()
    image = QImage(width + 40, height + 40, QImage.Format.Format_RGB32)
    image.fill(QColor(inks.paper))
    painter = QPainter(image)
    what(painter, QRectF(20, 20, width, height), given, inks=inks, text_px=TEXT_PX)
    painter.end()
    data = np.frombuffer(image.constBits(), np.uint8)
    pixels = data.reshape(image.height(), image.width(), 4)[..., :3].astype(int)
    is_drawn = (pixels != pixels[0, 0]).any(axis=2)
    assert not is_drawn[:20].any()
    assert not is_drawn[-20:].any()
    assert not is_drawn[:, :20].any()
    assert not is_drawn[:, -20:].any()
    return pixels[20:-20, 20:-20]


def accent(pixels, inks=LIGHT):
    """Return where the colour of what was measured lies."""
    colour = QColor(inks.accent)
    wanted = np.array([colour.blue(), colour.green(), colour.red()])
    return (np.abs(pixels - wanted) < 8).all(axis=2)


@pytest.mark.parametrize("inks", [LIGHT, DARK], ids=["light", "dark"])
def test_a_better_day_stands_higher(inks):
    where = accent(draw(draw_takes, days((2, 10), (9, 10)), inks=inks), inks)
    half = where.shape[1] // 2
    left, right = np.nonzero(where[:, :half])[0], np.nonzero(where[:, half:])[0]
    assert np.median(right) < np.median(left) - 50


def test_the_surer_day_has_the_shorter_line():
    where = accent(draw(draw_takes, days((7, 10), (70, 100))))
    half = where.shape[1] // 2
    few, many = np.nonzero(where[:, :half])[0], np.nonzero(where[:, half:])[0]
    assert np.ptp(many) < 0.6 * np.ptp(few)


@pytest.mark.parametrize("given", [[], days((0, 0)), days((3, 4)), days(*[(3, 4)] * 120)])
@pytest.mark.parametrize("size", [(600, 320), (220, 160)])
def test_any_number_of_days_stays_inside(given, size):
    draw(draw_takes, given, *size)


def test_a_longer_bar_stands_for_more_cups():
    steps = steps_of([*cups(6, 10), *[Cup(number=1, reached=Stage.LAYING)] * 3])
    where = accent(draw(draw_steps, steps, height=round(steps_height_px(TEXT_PX))))
    rows = where.sum(axis=1)
    first, last = rows[: len(rows) // 3].max(), rows[-len(rows) // 3 :].max()
    assert first > 2 * last > 0


@pytest.mark.parametrize("made", [[], cups(0, 5), cups(5, 5), [Cup(number=1)]])
def test_steps_of_any_cups_stay_inside(made):
    draw(draw_steps, steps_of(made), 400, round(steps_height_px(TEXT_PX)))


def test_levels_stand_where_their_shares_are():
    levels = [("brush", takes_of(cups(2, 20))), ("rigid tool", takes_of(cups(18, 20)))]
    height = round(levels_height_px(2, TEXT_PX))
    where = accent(draw(draw_levels, levels, height=height))
    upper, lower = where[: height // 3], where[height // 3 :]
    assert np.nonzero(upper)[1].max() < np.nonzero(lower)[1].min()


def test_a_long_name_and_an_unknown_share_stay_inside():
    levels = [("a very long name " * 12, takes_of(cups(3, 4))), ("other", takes_of([]))]
    draw(draw_levels, levels, 300, round(levels_height_px(2, TEXT_PX)))


def eye_days(*counts_and_hours, every_days=7):
    return [
        EyeDay(
            day=date(2027, 5, 1) + timedelta(days=every_days * k),
            oldest_h=Estimate(value=old_h, lo=old_h - 3.0, hi=old_h + 4.0),
            takes=takes_of(cups(*count)),
        )
        for k, (*count, old_h) in enumerate(counts_and_hours)
    ]


def draw_eye(given, width=600, inks=LIGHT):
    def what(painter, box, given, *, inks, text_px):
        draw_eye_and_takes(painter, box, given, limits=Limits(), inks=inks, text_px=text_px)

    return draw(what, given, width, round(eye_height_px(TEXT_PX)), inks)


@pytest.mark.parametrize("inks", [LIGHT, DARK], ids=["light", "dark"])
def test_the_eye_stands_over_the_takes_of_its_day(inks):
    # The line came down by 20 h while takes went up.
    where = accent(draw_eye(eye_days((3, 10, 45.0), (9, 10, 25.0)), inks=inks), inks)
    middle, across = where.shape[0] // 2, where.shape[1] // 2
    left, right = where[:, :across], where[:, across:]
    eye, takes = (slice(0, middle), slice(middle, None))

    def row(part):
        return np.median(np.nonzero(part)[0])

    def column(part):
        return np.median(np.nonzero(part)[1])

    assert row(right[eye]) > row(left[eye]) + 30
    assert row(right[takes]) < row(left[takes]) - 30
    for side in (left, right):
        assert column(side[eye]) == pytest.approx(column(side[takes]), abs=1.0)


@pytest.mark.parametrize(
    "given",
    [
        eye_days((0, 4, 12.0)),
        eye_days((4, 4, 70.0)),
        eye_days(*[(3, 4, 30.0)] * 12, every_days=1),
        eye_days(*[(3, 4, 30.0)] * 12, every_days=40),
    ],
)
@pytest.mark.parametrize("width", [600, 260])
def test_any_days_of_eye_and_takes_stay_inside(given, width):
    draw_eye(given, width)

"""The charts of a learner and of the class as pictures for a slide or a letter: PNG and SVG."""

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF, QSize
from PySide6.QtGui import QColor, QImage, QImageWriter, QPainter
from PySide6.QtSvg import QSvgGenerator

from larvasight.grading import Limits
from larvasight.paper.charts import AGES_TITLE, DAYS_TITLE, draw_ages, draw_days
from larvasight.paper.class_chart import class_height_px, draw_class
from larvasight.paper.inks import LIGHT
from larvasight.paper.line_days import LINE_DAYS_TITLE, draw_line_days
from larvasight.paper.line_strip import draw_line_strip, line_strip_height_px
from larvasight.paper.line_words import LINE_TITLE
from larvasight.paper.qt import ensure_application
from larvasight.practice import Progress
from larvasight.practice.class_line import ClassLine
from larvasight.practice.line import Line
from larvasight.sheet import write_whole

# A chart's width and height and its text, px; a PNG has three times as many.
_WIDTH_PX, _HEIGHT_PX, _TEXT_PX = 800.0, 450.0, 18.0
_MARGIN_PX = 24.0
_PNG_ZOOM = 3

CLASS_NAMES = ("The class.png", "The class.svg")

_Draw = Callable[[QPainter, QRectF], None]


def chart_names() -> tuple[str, ...]:
    """Return the names of all files that ``save_charts`` writes."""
    titles = (LINE_TITLE, AGES_TITLE, LINE_DAYS_TITLE, DAYS_TITLE)
    return tuple(f"{title}.{ending}" for title in titles for ending in ("png", "svg"))


def save_charts(
    folder: Path, progress: Progress, line: Line, *, limits: Limits
) -> tuple[Path, ...]:
    """Write every chart as PNG, 2,400 px wide, and as SVG.

    Parameters
    ----------
    folder : Path
        Where to write; files of the same names are replaced.
    progress, line : Progress, Line
        What is drawn.
    limits : Limits
        Usable and best span, shaded.

    Returns
    -------
    tuple of Path
        The files, as ``chart_names`` has them.

    Raises
    ------
    OutputFolderError
        If a file cannot be written.
    """
    ensure_application()
    paths = tuple(folder / name for name in chart_names())
    charts = _charts(progress, line, limits)
    for k, (draw, height_px) in enumerate(charts):
        write_whole(paths[2 * k], _png(draw, height_px))
        write_whole(paths[2 * k + 1], _svg(draw, height_px))
    return paths


def save_class_chart(folder: Path, lines: Sequence[ClassLine], limits: Limits) -> tuple[Path, ...]:
    """Write the chart of a class as PNG and SVG, named as ``CLASS_NAMES``.

    Raises
    ------
    OutputFolderError
        If a file cannot be written.
    """
    ensure_application()

    def rows(painter: QPainter, box: QRectF) -> None:
        text_px = 0.8 * _TEXT_PX
        draw_class(painter, box, lines, limits=limits, inks=LIGHT, text_px=text_px)

    height_px = class_height_px(len(lines), 0.8 * _TEXT_PX) + 2.0 * _MARGIN_PX
    paths = tuple(folder / name for name in CLASS_NAMES)
    write_whole(paths[0], _png(rows, height_px))
    write_whole(paths[1], _svg(rows, height_px))
    return paths


def _charts(progress: Progress, line: Line, limits: Limits) -> list[tuple[_Draw, float]]:
    """Return what draws each chart, and its height, px."""
    inks, text_px = LIGHT, _TEXT_PX

    def strip(painter: QPainter, box: QRectF) -> None:
        draw_line_strip(painter, box, line, limits=limits, inks=inks, text_px=text_px)

    def ages(painter: QPainter, box: QRectF) -> None:
        draw_ages(painter, box, progress, inks=inks, text_px=text_px, limits=limits, line=line)

    def line_days(painter: QPainter, box: QRectF) -> None:
        draw_line_days(painter, box, line, limits=limits, inks=inks, text_px=text_px)

    def days(painter: QPainter, box: QRectF) -> None:
        draw_days(painter, box, progress, inks=inks, text_px=text_px)

    strip_px = line_strip_height_px(text_px) + 2.0 * _MARGIN_PX
    return [(strip, strip_px), (ages, _HEIGHT_PX), (line_days, _HEIGHT_PX), (days, _HEIGHT_PX)]


def _png(draw: _Draw, height_px: float) -> bytes:
    size = QSize(round(_PNG_ZOOM * _WIDTH_PX), round(_PNG_ZOOM * height_px))
    image = QImage(size, QImage.Format.Format_RGB32)
    image.fill(QColor(LIGHT.paper))
    painter = QPainter(image)
    painter.scale(_PNG_ZOOM, _PNG_ZOOM)
    draw(painter, _inside(height_px))
    painter.end()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, QByteArray(b"png")).write(image)
    return bytes(buffer.data().data())


def _svg(draw: _Draw, height_px: float) -> bytes:
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setSize(QSize(round(_WIDTH_PX), round(height_px)))
    whole = QRectF(0.0, 0.0, _WIDTH_PX, height_px)
    generator.setViewBox(whole)
    painter = QPainter(generator)
    painter.fillRect(whole, QColor(LIGHT.paper))
    draw(painter, _inside(height_px))
    painter.end()
    return bytes(buffer.data().data())


def _inside(height_px: float) -> QRectF:
    whole = QRectF(0.0, 0.0, _WIDTH_PX, height_px)
    return whole.adjusted(_MARGIN_PX, _MARGIN_PX, -_MARGIN_PX, -_MARGIN_PX)

"""Drawing leaves Python's None alone: one release of the bindings let go of it at every call."""

import sys

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

N_CALLS = 1000


def none_lost(draw):
    """Return how many references to None are gone after many calls."""
    draw()
    before = sys.getrefcount(None)
    for _ in range(N_CALLS):
        draw()
    return before - sys.getrefcount(None)


def test_drawing_rectangles_keeps_none(qapp):
    image = QImage(32, 32, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    box = QRectF(4.0, 4.0, 20.0, 20.0)
    try:
        assert none_lost(lambda: painter.drawRect(box)) < N_CALLS // 10
        assert none_lost(lambda: painter.fillRect(box, QColor("#ffffff"))) < N_CALLS // 10
        assert none_lost(lambda: painter.drawRoundedRect(box, 3.0, 3.0)) < N_CALLS // 10
    finally:
        painter.end()


def test_a_loss_of_none_would_be_seen():
    kept = [None] * (3 * N_CALLS)

    def let_go():
        kept.pop()

    # From Python 3.12 on, None is never counted, so nothing can be lost either.
    expected = N_CALLS if sys.version_info < (3, 12) else 0
    assert abs(none_lost(let_go) - expected) < N_CALLS // 10

"""Move a view over a picture, at once or with a short glide that the eye can follow."""

from PySide6.QtCore import QEasingCurve, QObject, QPoint, QPointF, QVariantAnimation
from PySide6.QtWidgets import QGraphicsView

_GLIDE_MS = 140


class Glide(QObject):
    """Moves a view's middle; a new wish takes over from a glide under way.

    Parameters
    ----------
    view : QGraphicsView
        What is moved, never past its scene.
    """

    def __init__(self, view: QGraphicsView) -> None:
        super().__init__(view)
        self._across, self._down = view.horizontalScrollBar(), view.verticalScrollBar()
        self._motion = QVariantAnimation(self)
        self._motion.setDuration(_GLIDE_MS)
        self._motion.setEasingCurve(QEasingCurve.Type.OutCubic)
        self._motion.valueChanged.connect(self._step)

    @property
    def target(self) -> QPoint:
        """Where the scroll bars stand once a glide under way has ended."""
        if self._motion.state() is QVariantAnimation.State.Running:
            wanted: QPointF = self._motion.endValue()
            return wanted.toPoint()
        return QPoint(self._across.value(), self._down.value())

    def stop(self) -> None:
        """Stay where the view is."""
        self._motion.stop()

    def move_by(self, way: QPoint) -> None:
        """Move at once, px."""
        self.stop()
        self._across.setValue(self._across.value() + way.x())
        self._down.setValue(self._down.value() + way.y())

    def glide_by(self, way: QPoint) -> None:
        """Glide on from where a glide under way would end, px."""
        wanted = self.target + way
        x = min(max(wanted.x(), self._across.minimum()), self._across.maximum())
        y = min(max(wanted.y(), self._down.minimum()), self._down.maximum())
        self._motion.stop()
        self._motion.setStartValue(QPointF(self._across.value(), self._down.value()))
        self._motion.setEndValue(QPointF(x, y))
        self._motion.start()

    def _step(self, at: QPointF) -> None:
        self._across.setValue(round(at.x()))
        self._down.setValue(round(at.y()))

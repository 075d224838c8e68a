"""A comb side seen through a round field that is moved over it; the rest is hardly seen."""

import math

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QTransform
from PySide6.QtWidgets import QGraphicsView

from larvasight.app.comb_places import nearest_to
from larvasight.app.comb_view import CombView
from larvasight.app.loupe import DARK_AROUND, Loupe, draw_dark_around
from larvasight.geometry.loupe import LOUPE_FIELD, field_px, magnifications, on_screen_px

# What lies outside the field shows through the dark so much only.
_DIM_ALPHA = 222
_RIM_ROOM_PX = 12.0
# A cell counts as within the field only if it is so far inside, as a share of its pitch.
_INSIDE_SHARE = 0.4
_AT_A_CELL = frozenset(
    {Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Space}
)
_NOT_HERE = frozenset(
    {Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus, Qt.Key.Key_0, Qt.Key.Key_C, Qt.Key.Key_M}
)


class SearchSight(CombView):
    """A comb that is only seen through a round field, as wide as a hand loupe's.

    On a screen that was matched with a card the comb is as large as through the loupe in hand, or
    through a weak one; on any other the field is as wide as there is room.

    Parameters
    ----------
    loupe : Loupe
        The loupe that is shared with other views.
    """

    def __init__(self, loupe: Loupe) -> None:
        super().__init__(loupe)
        self._dim = QColor(DARK_AROUND)
        self._dim.setAlpha(_DIM_ALPHA)
        self.setAccessibleName("Comb side, seen through a round field")

    @property
    def magnification(self) -> float | None:
        """How many times larger the comb is shown, None on a screen that was not matched."""
        if self._loupe is None or not self.has_loupe:
            return None
        hand = [one for one in magnifications() if field_px(one, 1.0, (1e6, 1e6)) is not None]
        wanted = self._loupe.magnification
        return hand[0] if wanted is None else min(wanted, hand[-1])

    @property
    def reach_px(self) -> float:
        """How far from its middle cells lie whole in the field, px of the picture."""
        scale = max(self.transform().m11(), 1e-9)
        return max((self._field_px or 0.0) / 2.0 / scale - _INSIDE_SHARE * self._pitch_px, 0.0)

    @property
    def radius_px(self) -> float:
        """Radius of the field, px of the picture."""
        return (self._field_px or 0.0) / 2.0 / max(self.transform().m11(), 1e-9)

    def in_field(self) -> NDArray[np.bool_]:
        """Return which cells lie in the field now, shape (N,)."""
        middle = self.middle
        away = self._middles_xy_px - [middle.x(), middle.y()]
        return np.asarray(np.hypot(away[:, 0], away[:, 1]) <= self.reach_px)

    def go_to(self, point_xy_px: tuple[float, float]) -> None:
        """Hold the field over a point of the picture."""
        self.glide.stop()
        self.centerOn(QPointF(*point_xy_px))

    def zoom_by(self, factor: float) -> None:
        """Stay as near as the loupe is."""

    def _take_key(self, event: QKeyEvent) -> None:
        if event.key() in _NOT_HERE:
            event.ignore()
        elif event.key() in _AT_A_CELL and self._is_place_lost:
            # The field was dragged away from the keyboard's place: it comes along.
            self.set_place(nearest_to(self._items, self.middle))
        else:
            super()._take_key(event)

    @property
    def _is_place_lost(self) -> bool:
        if self._place is None or self._field_px is None:
            return False
        way = self._way_to(self._items[self._place].centre)
        return math.hypot(way.x(), way.y()) > self._field_px / 2.0

    def drawForeground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        """Darken what lies outside the field, not wholly."""
        QGraphicsView.drawForeground(self, painter, rect)
        if self._field_px is not None:
            painter.save()
            painter.resetTransform()
            draw_dark_around(painter, self.viewport(), self._field_px, self._dim)
            painter.restore()

    def _take_loupe(self, middle: QPointF) -> bool:
        """Hold the field over a point; False only before a comb is there."""
        if self._px_per_mm is None or self._loupe is None:
            return False
        view = self.viewport().size()
        room = (view.width() - _RIM_ROOM_PX, view.height() - _RIM_ROOM_PX)
        magnification = self.magnification
        px_per_mm = self._loupe.px_per_mm(self.screen())
        if magnification is not None and px_per_mm is not None:
            scale = on_screen_px(1.0, magnification, px_per_mm) / self._px_per_mm
            self._field_px = field_px(magnification, px_per_mm, room)
        else:
            self._field_px = max(min(room), 1.0)
            scale = self._field_px / LOUPE_FIELD.value / self._px_per_mm
        self._is_in_loupe = True
        self.setViewportUpdateMode(QGraphicsView.ViewportUpdateMode.FullViewportUpdate)
        across, down = view.width() / 2.0 / scale, view.height() / 2.0 / scale
        self._scene.setSceneRect(self._picture.adjusted(-across, -down, across, down))
        self.setTransform(QTransform.fromScale(scale, scale))
        self.centerOn(middle)
        self.viewport().update()
        return True

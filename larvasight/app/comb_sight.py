"""A picture of comb that is zoomed, moved about, or seen through the loupe."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPoint, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QResizeEvent, QShowEvent, QTransform, QWheelEvent
from PySide6.QtWidgets import QFrame, QGraphicsItem, QGraphicsScene, QGraphicsView

from larvasight.app.comb_picture import CombPicture, halves
from larvasight.app.glide import Glide
from larvasight.app.loupe import DARK_AROUND, Loupe, draw_dark_around
from larvasight.geometry.loupe import field_px, on_screen_px

ZOOM_STEP = 1.25
_ZOOM_MOST = 12.0
# A comb too large for the view opens with cells this wide, px.
_READING_PX = 104.0
# A whole comb side may be brought so near that a cell is this wide, px.
_NEAREST_PX = 400.0
# Nobody judges a cell that is smaller, px.
_JUDGED_LEAST_PX = 36.0
_NOTCH = 120.0
# A loupe is moved once what is looked at lies farther out than this share of its field.
_IN_LOUPE_SHARE = 0.7
# Room for a loupe's rim, px.
_RIM_ROOM_PX = 12.0


class CombSight(QGraphicsView):
    """Shows a picture whole, nearer, or as large as through the loupe.

    Parameters
    ----------
    loupe : Loupe, optional
        The loupe that is shared with other views.
    """

    def __init__(self, loupe: Loupe | None = None) -> None:
        super().__init__()
        self._scene = QGraphicsScene(self)
        self.setScene(self._scene)
        self._loupe = loupe
        self._picture = QRectF()
        self._px_per_mm: float | None = None
        self._pitch_px = 1.0
        self._scrolls = False
        self._zoom = 1.0
        self._field_px: float | None = None
        self._is_in_loupe = False
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        self.setViewportUpdateMode(QGraphicsView.ViewportUpdateMode.MinimalViewportUpdate)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.AnchorUnderMouse)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.glide = Glide(self)
        self._follows_screen = False
        if loupe is not None:
            loupe.changed.connect(self.refit)

    @property
    def is_in_loupe(self) -> bool:
        """Whether the comb is seen through the loupe."""
        return self._is_in_loupe

    @property
    def has_loupe(self) -> bool:
        """Whether a loupe in hand can be held over a comb: this screen was matched with a card."""
        return self._loupe is not None and self._loupe.is_matched(self.screen())

    @property
    def can_move(self) -> bool:
        """Whether more of the comb is there than is in view."""
        return self._is_in_loupe or self._zoom > 1.0

    @property
    def is_scrolled(self) -> bool:
        """Whether wheel and keys move the comb rather than zoom it."""
        return self._is_in_loupe or self._scrolls

    @property
    def middle(self) -> QPointF:
        """The point of the picture in the middle of the view."""
        return self.mapToScene(self.viewport().rect().center())

    def show_picture(
        self,
        image: QImage,
        smaller: Sequence[QImage] | None,
        *,
        px_per_mm: float | None,
        pitch_px: float,
        scrolls: bool,
    ) -> CombPicture:
        """Put another picture in the place of everything that is shown.

        ``px_per_mm`` is the scale of its rims, None where nobody knows it; ``scrolls`` opens it
        with cells large enough to be judged, and lets the wheel move it.
        """
        self.glide.stop()
        self._scene.clear()
        picture = CombPicture(image, halves(image) if smaller is None else smaller)
        self._scene.addItem(picture)
        self._picture = picture.boundingRect()
        self._px_per_mm, self._pitch_px, self._scrolls = px_per_mm, pitch_px, scrolls
        return picture

    def lay_over(self, item: QGraphicsItem) -> None:
        """Lay something over the picture until another one is shown."""
        self._scene.addItem(item)

    def rest(self) -> None:
        """Show the comb as it is first seen: whole, or large enough to be judged."""
        self.see_all()
        if self._scrolls and not self._is_in_loupe:
            self._zoom_to(self.resting_zoom)
            self.centerOn(self._picture.center())

    def see_all(self) -> None:
        """Fit the whole picture into the view; the loupe goes to its middle."""
        self.glide.stop()
        self._zoom = 1.0
        if not self._take_loupe(self._picture.center()):
            self._fit()

    def put_loupe_away(self) -> None:
        """Show the whole picture without a loupe."""
        if self._loupe is not None:
            self._loupe.use(None)
        self.see_all()

    def zoom_by(self, factor: float) -> None:
        """Go closer (above 1) or away; with a loupe in hand take the next one."""
        self.glide.stop()
        if self._is_in_loupe and self._loupe is not None:
            self._loupe.use(self._loupe.stronger(1 if factor > 1.0 else -1))
        else:
            self._zoom_to(min(max(self._zoom * factor, 1.0), self._zoom_most))

    def refit(self) -> None:
        """Show the comb anew about the point that was in the middle; the loupe changed."""
        self.glide.stop()
        middle, was_in_loupe = self.middle, self._is_in_loupe
        if self._take_loupe(middle):
            self._zoom = 1.0
        elif was_in_loupe:
            self.rest()
            self._go_to(middle)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the pointer, or move where the comb is scrolled."""
        turn, pixels = event.angleDelta(), event.pixelDelta()
        keys = event.modifiers()
        if self.is_scrolled and not keys & Qt.KeyboardModifier.ControlModifier:
            if not pixels.isNull():
                self.glide.move_by(-pixels)
            else:
                notch_px = max(self._cell_on_screen_px, 40.0)
                way = QPointF(turn) * (-notch_px / _NOTCH)
                if keys & Qt.KeyboardModifier.ShiftModifier and turn.x() == 0:
                    way = way.transposed()
                self.glide.glide_by(way.toPoint())
        elif turn.y():
            self.zoom_by(ZOOM_STEP ** (turn.y() / _NOTCH))
        event.accept()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the whole picture in view if it was, or the loupe where it was."""
        super().resizeEvent(event)
        if self._picture.isEmpty():
            return
        if self._is_in_loupe:
            self._take_loupe(self.middle)
        elif self._zoom == 1.0:
            self._fit()

    def showEvent(self, event: QShowEvent) -> None:
        """Follow the window to another screen, whose dots may have another size."""
        super().showEvent(event)
        handle = self.window().windowHandle()
        if handle is not None and not self._follows_screen:
            self._follows_screen = True
            handle.screenChanged.connect(lambda _screen: self.refit())
        self.refit()

    def drawBackground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        """Leave it dark beside the comb where a loupe is held over it."""
        if self._is_in_loupe:
            painter.fillRect(rect, DARK_AROUND)
        else:
            super().drawBackground(painter, rect)

    def drawForeground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        """Darken what the loupe does not show."""
        super().drawForeground(painter, rect)
        if self._field_px is not None:
            painter.save()
            painter.resetTransform()
            draw_dark_around(painter, self.viewport(), self._field_px)
            painter.restore()

    def is_in_field(self, point: QPoint) -> bool:
        """Return whether a point of the view is not in the dark."""
        if self._field_px is None:
            return True
        away = QPointF(point) - QPointF(self.viewport().rect().center())
        return away.x() ** 2 + away.y() ** 2 <= (self._field_px / 2.0) ** 2

    def are_in_view(self, points_xy_px: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return which points of the picture are in view while cells are large enough to judge.

        Parameters
        ----------
        points_xy_px : ndarray of shape (N, 2)
            Points of the picture.

        Returns
        -------
        ndarray of shape (N,)
            All False where cells are too small.
        """
        scale = self.transform().m11()
        if self._cell_on_screen_px < _JUDGED_LEAST_PX:
            return np.zeros(len(points_xy_px), dtype=np.bool_)
        middle = self.middle
        away_px = (points_xy_px - [middle.x(), middle.y()]) * scale
        if self._field_px is not None:
            return np.asarray(np.hypot(away_px[:, 0], away_px[:, 1]) <= self._field_px / 2.0)
        size = self.viewport().size()
        half_px = np.array([size.width(), size.height()]) / 2.0
        return np.asarray((np.abs(away_px) <= half_px).all(axis=1))

    def reveal(self, box: QRectF) -> None:
        """Glide until a part of the picture is seen; a loupe is moved before its rim is reached."""
        if self._field_px is not None:
            way = self._way_to(box.center())
            if math.hypot(way.x(), way.y()) > _IN_LOUPE_SHARE * self._field_px / 2.0:
                self.glide.glide_by(way)
        elif self.is_scrolled:
            view = QRectF(self.viewport().rect())
            seen = (
                self.mapFromScene(box).boundingRect().translated(self._scrolled - self.glide.target)
            )
            room = 0.5 * self._cell_on_screen_px
            wanted = QRectF(seen).adjusted(-room, -room, room, room)
            x = min(wanted.left(), 0.0) + max(wanted.right() - view.right(), 0.0)
            y = min(wanted.top(), 0.0) + max(wanted.bottom() - view.bottom(), 0.0)
            if x or y:
                self.glide.glide_by(QPoint(round(x), round(y)))
        else:
            self.ensureVisible(box, 16, 16)

    def glide_cells(self, across: float, down: float) -> None:
        """Glide over so many cells."""
        step_px = self._cell_on_screen_px
        self.glide.glide_by(QPoint(round(across * step_px), round(down * step_px)))

    def glide_views(self, across: float, down: float) -> None:
        """Glide by so many widths and heights of the view."""
        size = self.viewport().size()
        self.glide.glide_by(QPoint(round(across * size.width()), round(down * size.height())))

    @property
    def _scrolled(self) -> QPoint:
        return QPoint(self.horizontalScrollBar().value(), self.verticalScrollBar().value())

    @property
    def _cell_on_screen_px(self) -> float:
        return self._pitch_px * self.transform().m11()

    @property
    def _fit_scale(self) -> float:
        view = self.viewport().size()
        across = view.width() / max(self._picture.width(), 1.0)
        return min(across, view.height() / max(self._picture.height(), 1.0))

    @property
    def resting_zoom(self) -> float:
        """How near the comb is first seen, against the whole of it."""
        if not self._scrolls:
            return 1.0
        return max(1.0, _READING_PX / max(self._pitch_px * self._fit_scale, 1e-6))

    @property
    def _zoom_most(self) -> float:
        if not self._scrolls:
            return _ZOOM_MOST
        return max(1.0, _NEAREST_PX / max(self._pitch_px * self._fit_scale, 1e-6))

    def _zoom_to(self, zoom: float) -> None:
        if zoom == 1.0:
            self.see_all()
            return
        if self._zoom == 1.0 and not self._scrolls:
            # Room around, so that cells at the picture's edge, too, can be brought to the middle.
            across, down = self._picture.width() / 2.0, self._picture.height() / 2.0
            self._scene.setSceneRect(self._picture.adjusted(-across, -down, across, down))
        self.scale(zoom / self._zoom, zoom / self._zoom)
        self._zoom = zoom

    def _fit(self) -> None:
        self._scene.setSceneRect(self._picture)
        self.fitInView(self._picture, Qt.AspectRatioMode.KeepAspectRatio)

    def _take_loupe(self, middle: QPointF) -> bool:
        """Hold the loupe over a point; False where there is none to be held."""
        loupe, scale = self._loupe, None
        if loupe is not None and loupe.magnification is not None and self._px_per_mm:
            px_per_mm = loupe.px_per_mm(self.screen())
            if px_per_mm is not None:
                scale = on_screen_px(1.0, loupe.magnification, px_per_mm) / self._px_per_mm
                view = self.viewport().size()
                room = (view.width() - _RIM_ROOM_PX, view.height() - _RIM_ROOM_PX)
                self._field_px = field_px(loupe.magnification, px_per_mm, room)
        self._is_in_loupe = scale is not None
        if scale is None:
            self._field_px = None
        mode = QGraphicsView.ViewportUpdateMode
        self.setViewportUpdateMode(
            mode.MinimalViewportUpdate if self._field_px is None else mode.FullViewportUpdate
        )
        self.viewport().update()
        if scale is None:
            return False
        across = down = 0.0
        if self._field_px is not None:  # its middle goes as far as the picture's edge
            across, down = view.width() / 2.0 / scale, view.height() / 2.0 / scale
        self._scene.setSceneRect(self._picture.adjusted(-across, -down, across, down))
        self.setTransform(QTransform.fromScale(scale, scale))
        self.centerOn(middle)
        return True

    def _go_to(self, point: QPointF) -> None:
        if self.can_move:
            self.centerOn(point)

    def _way_to(self, point: QPointF) -> QPoint:
        """Return how far a point of the picture is from the middle once a glide has ended."""
        way = self.mapFromScene(point) - self.viewport().rect().center()
        return way + self._scrolled - self.glide.target

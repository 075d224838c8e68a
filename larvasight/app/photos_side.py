"""What stands beside a photo: what was found, why, and the photos opened before."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QImage
from PySide6.QtWidgets import (
    QDoubleSpinBox,
    QFrame,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.dressing import Dressing
from larvasight.app.parts import button, column, label
from larvasight.app.why_panel import WhyPanel
from larvasight.desk.own_photos import sum_up
from larvasight.desk.why import Why
from larvasight.geometry import PITCH_DEFAULT_MM, PITCH_MAX_MM, PITCH_MIN_MM
from larvasight.grading import Limits
from larvasight.paper.marks import Mark
from larvasight.sheet import FLAG_SENTENCES, ScaleSource, Sheet

if TYPE_CHECKING:
    from larvasight.records.types import Photo


class PhotosSide(QFrame):
    """The column beside a photo; ``chosen`` carries the checksum of a photo opened before."""

    chosen = Signal(str)

    def __init__(
        self,
        dressing: Dressing,
        *,
        open_photos: Callable[[], object],
        save_marked: Callable[[], object],
        measure_again: Callable[[], object],
        forget: Callable[[], object],
    ) -> None:
        super().__init__()
        self.setObjectName("side")
        self._dressing = dressing
        self._title = label("", "lead")
        self._found = label("")
        self._flags = label("", "faint")
        self.why = WhyPanel(dressing)
        self.list = QListWidget()
        self.list.setAccessibleName("Photos opened before")
        self.list.itemActivated.connect(self._choose)
        self.list.itemClicked.connect(self._choose)
        self._list_title = label("Photos opened before", "faint")
        self._pitch = _pitch_box()
        self._pitch.valueChanged.connect(lambda _value: self._fit_again())
        self._again = button("Measure again", measure_again)
        self._again.hide()
        self._tools = self._make_tools(
            button("Save marked picture ...", save_marked),
            button("Remove this photo", forget, "plain"),
        )
        self._stretch = QWidget()
        self._lay_out(button("Open photos ...", open_photos))
        self._measured_mm: float | None = None
        dressing.changed.connect(self.fit)
        self.fit()
        self.show_nothing()

    def _make_tools(self, *buttons: QWidget) -> QWidget:
        size = QWidget()
        row = QHBoxLayout(size)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(label("Cell size", wrap=False))
        row.addWidget(self._pitch, 1)
        return column(size, self._again, *buttons)

    def _lay_out(self, open_photos: QWidget) -> None:
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 16, 0, 16)
        for widget in (self._title, self._found, self._flags):
            widget.setContentsMargins(16, 0, 16, 0)
            outer.addWidget(widget)
        outer.addWidget(self.why, 1)
        foot = (self._tools, self._list_title, self.list, open_photos)
        outer.addWidget(column(*foot, margins=(16, 0, 16, 0)))
        outer.addWidget(self._stretch, 1)

    @property
    def pitch_mm(self) -> float | None:
        """The cell size the person gave, None while it is the assumed one."""
        given = round(self._pitch.value(), 1)
        return None if given == PITCH_DEFAULT_MM else given

    def fit(self) -> None:
        """Keep the column as wide as its words need."""
        self.setFixedWidth(round(min(20.5 * self._dressing.text_px, 480)))
        self.list.setFixedHeight(round(5.6 * self._dressing.text_px))

    def show_nothing(self) -> None:
        """Show the column while no photo is open."""
        for widget in (self._title, self._found, self._flags, self.why, self._tools):
            widget.hide()
        self._stretch.show()

    def show_photo(self, sheet: Sheet) -> None:
        """Show what was found in a photo."""
        self._stretch.hide()
        metrics = self._title.fontMetrics()
        room = self.width() - 32
        self._title.setText(
            metrics.elidedText(sheet.photo.name, Qt.TextElideMode.ElideMiddle, room)
        )
        self._found.setText(sum_up(sheet))
        flags = "\n".join(FLAG_SENTENCES[flag] for flag in sheet.lattice.flags)
        self._flags.setText(flags)
        for widget in (self._title, self._found, self.why, self._tools):
            widget.show()
        self._flags.setVisible(bool(flags))
        self._measured_mm = sheet.scale.pitch_mm
        if sheet.scale.source is not ScaleSource.COMB:
            self._pitch.setValue(sheet.scale.pitch_mm)
        self._fit_again()

    def show_why(self, image: QImage, why: Why, mark: Mark | None, limits: Limits) -> None:
        """Show one cell of the photo."""
        self.why.show_why(image, why, mark, limits)

    def show_list(self, photos: "Sequence[Photo]") -> None:
        """Show the photos opened before."""
        self.list.clear()
        for photo in photos:
            item = QListWidgetItem(f"{photo.name}  {photo.added_at_utc.astimezone():%d %b %Y}")
            item.setData(Qt.ItemDataRole.UserRole, photo.sha256)
            self.list.addItem(item)
        self.list.setVisible(bool(photos))
        self._list_title.setVisible(bool(photos))

    def select(self, sha256: str) -> None:
        """Show in the list which photo is open."""
        for row in range(self.list.count()):
            if self.list.item(row).data(Qt.ItemDataRole.UserRole) == sha256:
                self.list.setCurrentRow(row)

    def _choose(self, item: QListWidgetItem) -> None:
        self.chosen.emit(str(item.data(Qt.ItemDataRole.UserRole)))

    def _fit_again(self) -> None:
        """Offer to measure again when another cell size is wanted than was used."""
        used = self._measured_mm
        self._again.setVisible(used is not None and abs(self._pitch.value() - used) > 0.01)


def _pitch_box() -> QDoubleSpinBox:
    box = QDoubleSpinBox()
    box.setRange(PITCH_MIN_MM, PITCH_MAX_MM)
    box.setSingleStep(0.1)
    box.setDecimals(1)
    box.setSuffix(" mm")
    box.setValue(PITCH_DEFAULT_MM)
    box.setAccessibleName("Cell size")
    return box

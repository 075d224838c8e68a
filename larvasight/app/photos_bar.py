"""The bar above a photo: open photos, photos opened before, cell size, save."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QSizePolicy

from larvasight.app.number_box import NumberBox
from larvasight.app.parts import button, label
from larvasight.geometry import PITCH_DEFAULT_MM, PITCH_MAX_MM, PITCH_MIN_MM
from larvasight.sheet import ScaleSource, Sheet

if TYPE_CHECKING:
    from larvasight.records.types import Photo


class PhotosBar(QFrame):
    """Buttons for photos; ``chosen`` carries the checksum of a photo opened before.

    Parameters
    ----------
    open_photos, measure_again, save_marked, forget : callable
        What the buttons do.
    """

    chosen = Signal(str)

    def __init__(
        self,
        *,
        open_photos: Callable[[], object],
        measure_again: Callable[[], object],
        save_marked: Callable[[], object],
        forget: Callable[[], object],
    ) -> None:
        super().__init__()
        self.setObjectName("bar")
        self.list = QComboBox()
        self.list.setAccessibleName("Photos opened before")
        self.list.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.list.setMinimumContentsLength(10)
        # Buttons first: it takes what they leave.
        self.list.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.list.setPlaceholderText("Photos opened before")
        self.list.activated.connect(self._choose)
        self._pitch_label = label("Cell size", wrap=False)
        self._pitch = _pitch_box()
        self._pitch.valueChanged.connect(self._choose_pitch)
        self._again = button("Measure again", measure_again, short="Again")
        self._pitch.entered.connect(lambda: self._again.isVisible() and measure_again())
        self._save = button("Save marked ...", save_marked, short="Save ...")
        self._forget = button("Remove", forget, "plain")
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 8, 16, 8)
        row.addWidget(button("Open photos ...", open_photos, short="Open ..."))
        row.addWidget(self.list, 1)
        for widget in (self._forget, self._pitch_label, self._pitch, self._again, self._save):
            row.addWidget(widget)
        row.addStretch()  # takes what is left while there is no list
        self._used_mm: float | None
        self._chosen_mm: float | None = None
        self.show_nothing()

    @property
    def pitch_mm(self) -> float | None:
        """The cell size the person gave, None while it is the assumed one.

        What the box shows of an opened photo, as what a ruler told there, is no other photo's.
        """
        return None if self._chosen_mm == PITCH_DEFAULT_MM else self._chosen_mm

    def show_nothing(self) -> None:
        """Offer only what is possible while no photo is open."""
        self._used_mm = None
        if self._chosen_mm is None:  # what a removed photo had is no other's
            self._pitch.setValue(PITCH_DEFAULT_MM)
            self._chosen_mm = None
        for widget in (self._forget, self._save, self._again):
            widget.hide()

    def show_photo(self, sheet: Sheet) -> None:
        """Offer what can be done with a photo."""
        scale, chosen_mm = sheet.scale, self._chosen_mm
        is_given = scale.source is not ScaleSource.COMB
        self._pitch.setValue(scale.pitch_mm if is_given else PITCH_DEFAULT_MM)
        is_chosen = scale.source is ScaleSource.GIVEN and scale.pitch_mm == chosen_mm
        self._chosen_mm = chosen_mm if is_chosen else None
        # As far as the box can tell it: a ruler's size has more decimals.
        self._used_mm = self._pitch.value()
        self._fit_again()
        self._save.show()
        self._forget.show()

    def show_list(self, photos: "Sequence[Photo]", open_now: str) -> None:
        """Show the photos opened before, the one open now chosen."""
        self.list.clear()
        for photo in photos:
            self.list.addItem(
                f"{photo.name}, {photo.added_at_utc.astimezone():%d %b}", photo.sha256
            )
        self.list.setCurrentIndex(self.list.findData(open_now))
        self.list.setVisible(bool(photos))

    def _choose(self, row: int) -> None:
        self.chosen.emit(str(self.list.itemData(row)))

    def _choose_pitch(self, value_mm: float) -> None:
        self._chosen_mm = round(value_mm, 1)
        self._fit_again()

    def _fit_again(self) -> None:
        """Offer to measure again when another cell size is wanted than was used."""
        used_mm = self._used_mm
        self._again.setVisible(used_mm is not None and abs(self._pitch.value() - used_mm) > 0.01)


def _pitch_box() -> NumberBox:
    box = NumberBox()
    box.setRange(PITCH_MIN_MM, PITCH_MAX_MM)
    box.setSingleStep(0.1)
    box.setDecimals(1)
    box.setSuffix(" mm")
    box.setValue(PITCH_DEFAULT_MM)
    box.setAccessibleName("Cell size")
    return box

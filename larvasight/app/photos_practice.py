"""Asking whether a photo shall be practised on."""

from datetime import datetime
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QCheckBox, QDialog, QHBoxLayout, QVBoxLayout, QWidget

from larvasight.app.parts import button, label
from larvasight.desk.by_hand import ByHand
from larvasight.desk.own_sets import SURE_LEAST, Use, own_cells, use_words
from larvasight.grading import Limits

if TYPE_CHECKING:
    from larvasight.records.store import Store

_TELL = (
    "Pick from a patch and Take or leave can be done on this photo. Half of the cells, chosen by "
    "chance once and for all, are kept apart for a test. Only cells that were checked are asked to "
    "score: empty cells, eggs and the like as you see them, and larvae whose whole age band lies "
    "within the wanted ages or beside them. All others are shown grey, as not scored."
)
_TOO_FEW = (
    f"That is too few: at least {SURE_LEAST} sure cells on each half are needed. Check more cells "
    "(key 9 says that a cell is right as shown), or enter the known age of the comb."
)


class PracticeDialog(QDialog):
    """Says what a photo gives for practice, and lets it be used or no longer used.

    Parameters
    ----------
    parent : QWidget
        Where the dialog belongs.
    marks : ByHand
        The photo as put right by hand.
    use : Use or None
        How it is used now.
    limits : Limits
        The wanted ages.
    """

    def __init__(self, parent: QWidget, marks: ByHand, use: Use | None, limits: Limits) -> None:
        super().__init__(parent)
        self._marks, self._limits = marks, limits
        self._is_to_go = False
        self.setWindowTitle("Use for practice")
        self.setMinimumWidth(620)
        self.all_checked = QCheckBox("I looked at every cell: those I did not mark are right, too")
        self.all_checked.setChecked(use is not None and use.is_all_checked)
        self.all_checked.toggled.connect(self._tell)
        self._told = label("", "lead")
        self._too_few = label(_TOO_FEW)
        self.use_button = button("Use for practice", self.accept, "main")
        self.stop_button = button("No longer use it", self._stop)
        self.stop_button.setVisible(use is not None)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(16)
        column.addWidget(label("Practise on this photo?", "title"))
        column.addWidget(label(_TELL))
        for widget in (self.all_checked, self._told, self._too_few, self.use_button):
            column.addWidget(widget)
        row = QHBoxLayout()
        row.addWidget(self.stop_button)
        row.addStretch(1)
        row.addWidget(button("Cancel", self.reject, "plain"))
        column.addLayout(row)
        self._tell()

    def keep(self, store: "Store", now: datetime) -> None:
        """Store what was decided."""
        from larvasight.records.types import PracticePhoto

        sha256 = self._marks.sha256
        if self._is_to_go:
            store.remove_practice_photo(sha256)
            return
        is_all = self.all_checked.isChecked()
        store.put_practice_photo(
            PracticePhoto(sha256=sha256, is_all_checked=is_all, made_at_utc=now)
        )

    def _stop(self) -> None:
        self._is_to_go = True
        self.accept()

    def _tell(self) -> None:
        is_all = self.all_checked.isChecked()
        cells = own_cells(self._marks, is_all_checked=is_all, limits=self._limits)
        use = Use(cells=cells, sha256=self._marks.sha256, is_all_checked=is_all)
        self._told.setText(use_words(use))
        self._too_few.setVisible(not use.is_enough)
        self.use_button.setEnabled(use.is_enough)

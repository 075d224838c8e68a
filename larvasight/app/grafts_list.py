"""The list of batches, the newest first, and what can be done from there."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QBoxLayout,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QMenu,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.parts import button, label
from larvasight.grafts import Batch
from larvasight.grafts.acceptance import takes_of
from larvasight.grafts.words import TOOL_WORDS, batch_words

_ID = Qt.ItemDataRole.UserRole
# Width in line heights from which the buttons stand beside the title.
_BESIDE_EM = 40
_BENCH = "At the bench  (B)"


class BatchList(QWidget):
    """Lists batches; Enter opens the one chosen. Letters stand for the buttons: N, B, W."""

    opened = Signal(object)
    new_pressed = Signal()
    bench_pressed = Signal()
    told_pressed = Signal()
    save_pressed = Signal()
    read_pressed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._batches: dict[str, Batch] = {}
        self.list = QListWidget()
        self.list.setAccessibleName("Batches")
        self.list.setWordWrap(True)
        self.list.itemActivated.connect(lambda _item: self._open())
        self._new = button("Note a batch  (N)", self.new_pressed.emit, "main")
        self._bench = button(_BENCH, self.bench_pressed.emit)
        told = button("What they say  (W)", self.told_pressed.emit)
        buttons = QHBoxLayout()
        buttons.setSpacing(8)
        for made in (self._new, self._bench, told, self._table_button()):
            buttons.addWidget(made)
        self._head = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._head.setSpacing(8)
        self._head.addWidget(label("Grafts", "title", wrap=False), 1)
        self._head.addLayout(buttons)
        column = QVBoxLayout(self)
        column.setContentsMargins(32, 24, 32, 24)
        column.setSpacing(16)
        column.addLayout(self._head)
        column.addWidget(self.list, 1)
        column.addWidget(label("Enter opens a batch and its bar of cups.", "faint"))
        for key, done in (
            ("N", self.new_pressed.emit),
            ("B", self.bench_pressed.emit),
            ("W", self.told_pressed.emit),
        ):
            self._shortcut(key, done)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the buttons under the title where they do not fit beside it."""
        super().resizeEvent(event)
        is_wide = self.width() >= _BESIDE_EM * self.fontMetrics().height()
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._head.setDirection(across if is_wide else down)

    def show_bench(self, out_min: int | None) -> None:
        """Say how many minutes a comb is out of the hive, None while none is."""
        self._bench.setText(_BENCH if out_min is None else f"At the bench: {out_min} min  (B)")

    def show_batches(self, batches: Sequence[Batch]) -> None:
        """Show these batches; the one chosen before stays chosen."""
        item = self.list.currentItem()
        chosen = item.data(_ID) if item is not None else None
        self._batches = {str(batch.id): batch for batch in batches}
        self.list.clear()
        for batch in batches:
            made = QListWidgetItem(f"{batch_words(batch)}\n{_second_line(batch)}")
            made.setData(_ID, str(batch.id))
            self.list.addItem(made)
            if str(batch.id) == chosen:
                self.list.setCurrentItem(made)
        if self.list.currentRow() < 0 and self.list.count():
            self.list.setCurrentRow(0)

    def _open(self) -> None:
        item = self.list.currentItem()
        if item is not None:
            self.opened.emit(self._batches[item.data(_ID)])

    def _table_button(self) -> QPushButton:
        made = QPushButton("Table")
        menu = QMenu(made)
        menu.addAction("Save as a table (CSV) ...").triggered.connect(
            lambda _checked=False: self.save_pressed.emit()
        )
        menu.addAction("Bring in a table (CSV) ...").triggered.connect(
            lambda _checked=False: self.read_pressed.emit()
        )
        made.setMenu(menu)
        return made

    def _shortcut(self, key: str, done: Callable[[], object]) -> None:
        made = QShortcut(QKeySequence(key), self)
        made.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        made.activated.connect(done)


def _second_line(batch: Batch) -> str:
    if batch.is_practice:
        return "practice, thrown away"
    takes = takes_of(batch.cups)
    told = ["not looked at yet"]
    if takes.n_known:
        told = [f"{takes.n_accepted} of {takes.n_known} accepted"]
        told += [f"{takes.n_open} not looked at yet"] if takes.n_open else []
    if batch.tool is not None:
        told.append(TOOL_WORDS[batch.tool])
    return ", ".join(told)

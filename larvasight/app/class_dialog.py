"""The class: a row for each learner, who needs the teacher first, and the next lesson's topic."""

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QMessageBox,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.asking import ask_folder, ask_save_path, tell_saved
from larvasight.app.context import Context
from larvasight.app.jobs import Job
from larvasight.app.parts import button, label
from larvasight.desk.class_view import ClassTold, class_of, save_class_report, save_class_table
from larvasight.desk.reporting import local_zone
from larvasight.errors import LarvasightError
from larvasight.paper.chart_files import CLASS_NAMES, save_class_chart
from larvasight.paper.class_chart import CLASS_TITLE, class_height_px, draw_class, line_text
from larvasight.practice.class_line import ClassLine

TITLE = "The class"
_NOTE = (
    "Dots with lines: the youngest and the oldest age that each one takes half of the time. "
    "Shaded: usable and best ages. Who needs the teacher stands first; it is no rank. Few cells "
    "say little, and picking on a screen is not grafting."
)
_TEXT_SHARE = 0.95
_LEAST_EM = 52.0


class ClassDialog(QDialog):
    """Shows all learners of the records."""

    def __init__(self, parent: QWidget, context: Context) -> None:
        super().__init__(parent)
        self.setWindowTitle(TITLE)
        self._context = context
        self._told: ClassTold | None = None
        self.topic = label("Reading all answers ...", "lead")
        self.rows = _Rows(context)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(self.rows)
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(12)
        for part in (label(TITLE, "title"), self.topic, label(CLASS_TITLE), scroll):
            column.addWidget(part)
        column.setStretchFactor(scroll, 1)
        column.addWidget(label(_NOTE, "faint"))
        saves = QHBoxLayout()
        self._buttons = [
            button("Save report (PDF) ...", self.save_report),
            button("Save table (CSV) ...", self.save_table),
            button("Save chart (PNG, SVG) ...", self.save_chart),
        ]
        for each in self._buttons:
            each.setEnabled(False)
            saves.addWidget(each)
        saves.addStretch(1)
        saves.addWidget(button("Close", self.accept, "main"))
        column.addLayout(saves)
        room = parent.size() * 0.95
        self.resize(min(1240, room.width()), min(900, room.height()))
        store, now = context.store, context.now()
        self._job = Job(
            lambda: class_of(store, now=now, tz=local_zone()), self._show, self._fail
        ).start()

    def save_report(self) -> None:
        """Ask for a file and write the class as PDF."""
        self._save(
            "Save report", f"larvasight {TITLE.lower()}.pdf", "PDF (*.pdf)", save_class_report
        )

    def save_table(self) -> None:
        """Ask for a file and write the class as CSV."""
        self._save("Save table", f"larvasight {TITLE.lower()}.csv", "CSV (*.csv)", save_class_table)

    def save_chart(self) -> None:
        """Ask for a folder and write the chart as PNG and SVG."""
        told, title = self._told, "Save chart"
        if told is None:
            return
        folder = ask_folder(self, f"{title} (PNG and SVG) in", CLASS_NAMES)
        if folder is None:
            return
        try:
            save_class_chart(folder, told.lines, told.limits)
        except LarvasightError as error:
            QMessageBox.warning(self, title, str(error))
        else:
            QMessageBox.information(
                self, title, f"{' and '.join(CLASS_NAMES)} are now in {folder}."
            )

    def done(self, result: int) -> None:
        """Leave; what is still being read is forgotten."""
        self._job.forget()
        super().done(result)

    def _save(
        self, title: str, name: str, kinds: str, write: Callable[[ClassTold, Path], None]
    ) -> None:
        if self._told is None:
            return
        path = ask_save_path(self, title, name, kinds, Path(name).suffix)
        if path is None:
            return
        try:
            write(self._told, path)
        except LarvasightError as error:
            QMessageBox.warning(self, title, str(error))
        else:
            tell_saved(self, title, path)

    def _show(self, told: ClassTold) -> None:
        self._told = told
        self.topic.setText(told.topic if told.lines else "Nobody has practised yet.")
        self.rows.show_told(told)
        for each in self._buttons:
            each.setEnabled(bool(told.lines))

    def _fail(self, error: LarvasightError) -> None:
        self.topic.setText(str(error))


class _Rows(QWidget):
    """All rows, drawn as on paper."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._told: ClassTold | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def show_told(self, told: ClassTold) -> None:
        """Show a class."""
        self._told = told
        self.setAccessibleName(TITLE)
        self.setAccessibleDescription(_spoken(told.lines))
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Return room for all rows."""
        text_px = self._text_px
        n = len(self._told.lines) if self._told is not None else 0
        return QSize(round(_LEAST_EM * text_px), round(class_height_px(n, text_px)) + 4)

    def minimumSizeHint(self) -> QSize:
        """Return the same: rows are never squeezed."""
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the rows."""
        del event
        if self._told is None:
            return
        draw_class(
            QPainter(self),
            QRectF(self.rect()),
            self._told.lines,
            limits=self._told.limits,
            inks=self._context.dressing.inks,
            text_px=self._text_px,
        )

    @property
    def _text_px(self) -> float:
        return _TEXT_SHARE * self._context.dressing.text_px


def _spoken(lines: Sequence[ClassLine]) -> str:
    return " ".join(line_text(line) for line in lines)


def show_class(parent: QWidget, context: Context) -> None:
    """Show the class until it is closed."""
    dialog = ClassDialog(parent, context)
    dialog.exec()
    dialog.deleteLater()

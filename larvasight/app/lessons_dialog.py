"""Lessons and results: what came back of each lesson, and the cells most students got wrong."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from uuid import UUID

from PySide6.QtCore import Qt
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QMessageBox,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.asking import ask_save_path, ask_yes, tell_saved
from larvasight.app.context import Context
from larvasight.app.homework_saving import ask_save_lesson
from larvasight.app.images import image_of
from larvasight.app.jobs import Job
from larvasight.app.parts import button, label
from larvasight.desk.homework import (
    BroughtIn,
    bring_in_results,
    brought_words,
    file_name,
    kept_lesson,
)
from larvasight.desk.lesson_results import (
    LessonLine,
    LessonResults,
    cell_picture,
    lesson_results,
    save_results_table,
)
from larvasight.errors import LarvasightError
from larvasight.records.store import Store

TITLE = "Lessons and results"
_NONE = "No lesson is here yet. Make one, or open a lesson file, from the Homework menu."
_NOTHING_BACK = (
    "No result of this lesson is here yet. When students have sent theirs, choose Bring in results "
    "in the Homework menu."
)
_HEADS = ("", "combs done", "right picks", "too old", "eggs", "no larva", "right ages left")
_HARD_MOST = 5
_CELL_EM = 7.5


class LessonsDialog(QDialog):
    """Shows one lesson at a time; result files can be brought in."""

    def __init__(self, parent: QWidget, context: Context) -> None:
        super().__init__(parent)
        self.setWindowTitle(TITLE)
        self._context = context
        self._job: Job | None = None
        self.results: LessonResults | None = None
        self.choice = QComboBox()
        self.choice.setAccessibleName("Lesson")
        self.choice.currentIndexChanged.connect(lambda _at: self.read())
        self.told = label("")
        self.told.hide()
        self._inside = QWidget()
        self._rows = QVBoxLayout(self._inside)
        self._rows.setSpacing(16)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(self._inside)
        self.table_button = button("Save as a table (CSV) ...", self.save_table)
        self._buttons = [
            button("Save the lesson file ...", self.save_file),
            self.table_button,
            button("Remove from the list ...", self.remove),
        ]
        column = QVBoxLayout(self)
        column.setContentsMargins(24, 24, 24, 24)
        column.setSpacing(12)
        column.addWidget(label(TITLE, "title"))
        column.addWidget(self.told)
        column.addWidget(self.choice)
        column.addWidget(scroll, 1)
        foot = QHBoxLayout()
        for each in self._buttons:
            foot.addWidget(each)
        foot.addStretch(1)
        foot.addWidget(button("Close", self.accept, "main"))
        column.addLayout(foot)
        room = parent.size() * 0.95
        self.resize(min(1100, room.width()), min(800, room.height()))
        self.fill()

    @property
    def lesson_id(self) -> UUID | None:
        """The lesson that is shown."""
        told = self.choice.currentData()
        return None if told is None else UUID(told)

    def fill(self, chosen: UUID | None = None) -> None:
        """List the lessons, the newest first; show the one chosen."""
        self.choice.blockSignals(True)
        self.choice.clear()
        for kept in self._context.store.lessons():
            day = kept.added_at_utc.astimezone()
            came = "taken in" if kept.is_homework else "made"
            self.choice.addItem(f"{kept.title}, {came} {day.day} {day:%b %Y}", str(kept.id))
        at = max(0, self.choice.findData(str(chosen)))
        self.choice.setCurrentIndex(at if self.choice.count() else -1)
        self.choice.blockSignals(False)
        self.choice.setVisible(self.choice.count() > 0)
        self.read()

    def bring_in(self, paths: Sequence[Path]) -> None:
        """Bring result files in; what became of each is told above the lesson."""
        # Another lesson chosen meanwhile would end the telling.
        for each in (self.choice, *self._buttons):
            each.setEnabled(False)
        self._wait("Bringing the results in ...")
        context = self._context
        work = partial(bring_in_results, context.store, paths, now=context.now())
        self._job = Job(work, self._brought, self._not_brought).start()

    def read(self) -> None:
        """Read what came back of the lesson chosen."""
        lesson_id = self.lesson_id
        self.results = None
        for each in self._buttons:
            each.setEnabled(lesson_id is not None)
        self.table_button.setEnabled(False)  # until there is a result
        if self._job is not None:
            self._job.forget()
        if lesson_id is None:
            self._wait(_NONE)
            return
        self._job = Job(
            partial(_results, self._context.store, lesson_id), self._show, self._fail
        ).start()

    def save_file(self) -> None:
        """Save the lesson file once more."""
        if self.lesson_id is not None and self.results is not None:
            ask_save_lesson(self, self._context, self.lesson_id, self.results.lesson.title)

    def save_table(self) -> None:
        """Ask for a file and write a line for each student."""
        results, title = self.results, "Save as a table"
        if results is None:
            return
        name = file_name(results.lesson.title, "results", ending=".csv")
        path = ask_save_path(self, title, name, "CSV (*.csv)", ".csv")
        if path is None:
            return
        try:
            save_results_table(results, path)
        except LarvasightError as error:
            QMessageBox.warning(self, title, str(error))
        else:
            tell_saved(self, title, path)

    def remove(self) -> None:
        """Take the lesson out of the list; answers stay."""
        lesson_id, title = self.lesson_id, "Remove from the list"
        words = (
            "Take this lesson out of the list and off Practise? What was answered stays. Only its "
            "lesson file brings it back: save that first if you have none."
        )
        if lesson_id is None or not ask_yes(self, title, words, yes="Remove"):
            return
        try:
            self._context.store.remove_lesson(lesson_id, now=self._context.now())
        except LarvasightError as error:
            QMessageBox.warning(self, title, str(error))
        self._context.homework_changed.emit()
        self.fill()

    def done(self, result: int) -> None:
        """Leave; what is still being read is forgotten."""
        if self._job is not None:
            self._job.forget()
        super().done(result)

    def _brought(self, brought: list[BroughtIn]) -> None:
        known = [one.lesson_id for one in brought if not one.is_refused]
        self._tell("\n".join(brought_words(brought)), known[0] if known else None)

    def _not_brought(self, error: LarvasightError) -> None:
        self._tell(str(error), self.lesson_id)

    def _tell(self, words: str, chosen: UUID | None) -> None:
        """Tell what came of bringing in, and show a lesson again."""
        self._job = None
        self.told.setText(words)
        self.told.show()
        self.choice.setEnabled(True)
        self.fill(chosen)

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        self._wait(str(error))

    def _wait(self, words: str) -> None:
        self._put((label(words),))

    def _put(self, widgets: Sequence[QWidget]) -> None:
        while (item := self._rows.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.hide()
                old.deleteLater()
        for widget in widgets:
            self._rows.addWidget(widget)
        self._rows.addStretch(1)

    def _show(self, results: LessonResults) -> None:
        self._job, self.results = None, results
        self.table_button.setEnabled(bool(results.lines))
        if not results.lines:
            self._wait(_NOTHING_BACK)
            return
        widgets: list[QWidget] = [_table(results)]
        if results.hard:
            widgets.append(label("Most often wrong, to talk about in class", "lead"))
            side = round(_CELL_EM * self._context.dressing.text_px)
            widgets.append(_hard_cells(results, side))
        self._put(widgets)


def _results(store: Store, lesson_id: UUID) -> LessonResults | None:
    lesson = kept_lesson(store, lesson_id)
    return None if lesson is None else lesson_results(store, lesson)


def _table(results: LessonResults) -> QWidget:
    table = QWidget()
    grid = QGridLayout(table)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(24)
    grid.setVerticalSpacing(8)
    grid.setColumnStretch(len(_HEADS), 1)
    for column, head in enumerate(_HEADS):
        grid.addWidget(label(head, "faint", wrap=False), 0, column)
    for row, line in enumerate(results.lines, 1):
        for column, words in enumerate(_words(line, len(results.lesson.tasks))):
            grid.addWidget(label(words, wrap=False), row, column)
    return table


def _words(line: LessonLine, n_tasks: int) -> tuple[str, ...]:
    told = line.score
    return (
        line.name,
        f"{line.n_done} of {n_tasks}",
        f"{told.n_right} of {told.n_picks}",
        f"{told.n_too_old}",
        f"{told.n_egg}",
        f"{told.n_no_larva}",
        f"{told.n_missed} of {told.n_good}",
    )


def _hard_cells(results: LessonResults, side_px: int) -> QWidget:
    row = QWidget()
    layout = QHBoxLayout(row)
    layout.setContentsMargins(0, 0, 0, 0)
    layout.setSpacing(16)
    for hard in results.hard[:_HARD_MOST]:
        picture = QLabel()
        pixels = image_of(cell_picture(results.lesson, hard))
        picture.setPixmap(
            QPixmap.fromImage(pixels).scaled(
                side_px,
                side_px,
                Qt.AspectRatioMode.KeepAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            )
        )
        picture.setAccessibleName(hard.words)
        words = label(hard.words)
        words.setFixedWidth(side_px + 24)
        one = QVBoxLayout()
        one.addWidget(picture)
        one.addWidget(words, 1, Qt.AlignmentFlag.AlignTop)
        layout.addLayout(one)
    layout.addStretch(1)
    return row

"""Make a lesson: its title, how many combs of each kind, and the file that goes out."""

from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QDialog,
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QMessageBox,
    QPlainTextEdit,
    QProgressBar,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from larvasight.app.context import Context
from larvasight.app.homework_saving import ask_save_lesson
from larvasight.app.jobs import Job
from larvasight.app.parts import button, label
from larvasight.app.practise_words import span_words
from larvasight.desk.lesson import (
    TASKS_MAX,
    TITLE_CHARS_MAX,
    Lesson,
    make_lesson,
)
from larvasight.desk.lesson_file import lesson_bytes
from larvasight.errors import LarvasightError
from larvasight.practice import PICK_FROM_PATCH, TAKE_OR_LEAVE, Drill
from larvasight.practice.drills import FIND_YOUR_EDGES, PICK_ON_OWN, TAKE_ON_OWN

TITLE = "Make a lesson"
_WORDS = (
    "Every student gets the same combs and the wanted ages below. The file holds the pictures and "
    "what is true of each cell; results come back as small files."
)
# Drills, how many combs of each at first, and about how many minutes one takes.
_PARTS: tuple[tuple[Drill, int, float], ...] = (
    (PICK_FROM_PATCH, 3, 2.0),
    (TAKE_OR_LEAVE, 1, 1.5),
    (FIND_YOUR_EDGES, 0, 4.0),
)
_OWN_PARTS: tuple[tuple[Drill, int, float], ...] = ((PICK_ON_OWN, 0, 2.0), (TAKE_ON_OWN, 0, 1.5))
_EACH_MOST = 20
_EDGE_PX, _ROOM_SHARE = 24, 0.92
_KEPT = (
    "The lesson is kept on this computer. Its file can be saved at any time: Homework, Lessons and "
    "results, Save the lesson file."
)


class LessonDialog(QDialog):
    """Asks what goes into a lesson, and draws its combs."""

    drawn = Signal(int)

    def __init__(self, parent: QWidget, context: Context) -> None:
        super().__init__(parent)
        self._context = context
        self._job: Job | None = None
        self.setWindowTitle(TITLE)
        self.setMinimumWidth(620)
        self.limits = context.store.limits()
        self.name, self.by = QLineEdit(), QLineEdit()
        self.name.setMaxLength(TITLE_CHARS_MAX)
        self.by.setMaxLength(60)
        self.by.setText(context.learner.name if context.learner is not None else "")
        self.note = QPlainTextEdit()
        self.note.setTabChangesFocus(True)
        self.note.setFixedHeight(4 * context.dressing.text_px)
        has_own = bool(context.store.practice_photos())
        self.parts = [
            (drill, _count(drill, n), minutes)
            for drill, n, minutes in (*_PARTS, *(_OWN_PARTS if has_own else ()))
        ]
        self.told, self.progress = label("", "faint"), QProgressBar()
        self.progress.setTextVisible(False)
        room = self.progress.sizePolicy()
        room.setRetainSizeWhenHidden(True)  # else every field shrinks when it comes
        self.progress.setSizePolicy(room)
        self.progress.hide()
        self._inside, self._scroll = QWidget(), QScrollArea()
        self.make_button = button("Make it and save the file ...", self.make, "main")
        self._lay_out()
        self.drawn.connect(self.progress.setValue)
        self._count_up()

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setSpacing(12)
        form.addRow("Title", self.name)
        form.addRow("From", self.by)
        form.addRow("Note for students", self.note)
        for drill, box, _ in self.parts:
            form.addRow(f"Combs: {drill.title}", box)
            box.valueChanged.connect(self._count_up)
        above = QVBoxLayout(self._inside)
        above.setContentsMargins(0, 0, 0, 0)
        above.setSpacing(12)
        above.addWidget(label(_WORDS))
        above.addLayout(form)
        above.addWidget(label(span_words(self.limits), "faint"))
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._scroll.setWidget(self._inside)
        foot = QHBoxLayout()
        foot.addWidget(self.make_button, 1)
        foot.addWidget(button("Cancel", self.reject, "plain"))
        column = QVBoxLayout(self)
        column.setContentsMargins(_EDGE_PX, _EDGE_PX, _EDGE_PX, _EDGE_PX)
        column.setSpacing(12)
        column.addWidget(label(TITLE, "title"))
        column.addWidget(self._scroll, 1)
        for widget in (self.told, self.progress):
            column.addWidget(widget)
        column.addLayout(foot)

    def showEvent(self, event: QShowEvent) -> None:
        """Give every field its height; where the screen is too low the fields can be scrolled."""
        super().showEvent(event)
        inside = self._inside
        width_px = max(self.width(), inside.minimumSizeHint().width() + 2 * _EDGE_PX)
        beside_px = self.sizeHint().height() - self._scroll.sizeHint().height()
        height_px = beside_px + inside.heightForWidth(width_px - 2 * _EDGE_PX)
        room_px = round(_ROOM_SHARE * self.screen().availableGeometry().height())
        self.resize(width_px, min(height_px, room_px))

    def make(self) -> None:
        """Draw the combs in a worker; the file is asked for once they are there."""
        if self._job is not None:
            return
        self.progress.setRange(0, max(1, self._n_combs()))
        self.progress.setValue(0)
        self.progress.show()
        self.make_button.setEnabled(False)
        self._say("Drawing the combs ...")
        context = self._context
        work = partial(
            make_lesson,
            [(drill, box.value()) for drill, box, _ in self.parts],
            title=self.name.text(),
            limits=self.limits,
            now=context.now(),
            rng=context.rng.spawn(1)[0],
            made_by=self.by.text(),
            note=self.note.toPlainText(),
            take_own=context.supply.take_own,
            told=self.drawn.emit,
        )
        self._job = Job(lambda: _with_file(work()), self._keep, self._fail).start()

    def done(self, result: int) -> None:
        """Leave; what is still being drawn is forgotten."""
        if self._job is not None:
            self._job.forget()
        super().done(result)

    def _keep(self, made: tuple[Lesson, bytes]) -> None:
        self._job = None
        (lesson, file), context = made, self._context
        try:
            context.store.put_lesson(
                lesson.id, title=lesson.title, file=file, is_homework=False, now=context.now()
            )
        except LarvasightError as error:
            self._fail(error)
            return
        # It is kept here whatever becomes of the file: it can be saved again later.
        if not ask_save_lesson(self, context, lesson.id, lesson.title):
            QMessageBox.information(self, TITLE, _KEPT)
        self.accept()

    def _fail(self, error: LarvasightError) -> None:
        self._job = None
        self.progress.hide()
        self.make_button.setEnabled(True)
        self._say(str(error), is_wrong=True)
        if not self.name.text().strip():
            self.name.setFocus()

    def _say(self, words: str, *, is_wrong: bool = False) -> None:
        self.told.setText(words)
        self.told.setProperty("role", "wrong" if is_wrong else "faint")
        self.told.style().unpolish(self.told)
        self.told.style().polish(self.told)

    def _n_combs(self) -> int:
        return sum(box.value() for _, box, _ in self.parts)

    def _count_up(self) -> None:
        n_combs = self._n_combs()
        minutes = sum(box.value() * each for _, box, each in self.parts)
        combs = "1 comb" if n_combs == 1 else f"{n_combs} combs"
        words = f"{combs}, about {round(minutes)} minutes." if n_combs else "No comb yet."
        if n_combs > TASKS_MAX:
            words = f"{combs}: a lesson holds at most {TASKS_MAX}."
        self._say(words, is_wrong=n_combs > TASKS_MAX)
        self.make_button.setEnabled(0 < n_combs <= TASKS_MAX)


def _count(drill: Drill, n: int) -> QSpinBox:
    box = QSpinBox()
    box.setRange(0, _EACH_MOST)
    box.setValue(n)
    box.setAccessibleName(f"Combs: {drill.title}")
    return box


def _with_file(lesson: Lesson) -> tuple[Lesson, bytes]:
    return lesson, lesson_bytes(lesson)


def make_lesson_here(parent: QWidget, context: Context) -> None:
    """Let the teacher make a lesson."""
    dialog = LessonDialog(parent, context)
    dialog.exec()
    dialog.deleteLater()

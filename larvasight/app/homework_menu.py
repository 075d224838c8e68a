"""The Homework menu: take a lesson in, make one, bring results in, see what came back."""

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QFileDialog, QMenu, QMessageBox

from larvasight.app.asking import plain
from larvasight.app.context import Context
from larvasight.app.homework_saving import LESSON_KINDS, RESULT_KINDS
from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from larvasight.app.window import Window

OPEN_TITLE = "Open a lesson file"
BRING_TITLE = "Bring in results"


def add_homework_menu(menu: QMenu, window: "Window", context: Context) -> None:
    """Fill the menu."""
    for words, done, keys in (
        (f"{OPEN_TITLE} ...", ask_lesson, "Ctrl+H"),
        (None, None, ""),
        ("Make a lesson ...", _make, ""),
        (f"{BRING_TITLE} ...", ask_results, ""),
        ("Lessons and results ...", show_lessons, ""),
    ):
        if words is None or done is None:
            menu.addSeparator()
            continue
        action = menu.addAction(words)
        action.triggered.connect(lambda _checked=False, do=done: do(window, context))
        if keys:
            action.setShortcut(QKeySequence(keys))


def ask_lesson(window: "Window", context: Context) -> None:
    """Ask for a lesson file and take it in as homework."""
    name, _ = QFileDialog.getOpenFileName(window, OPEN_TITLE, "", LESSON_KINDS)
    if name:
        open_lesson_file(window, context, Path(name))


def open_lesson_file(window: "Window", context: Context, path: Path) -> None:
    """Take a lesson file in as homework, and say where it is now."""
    from larvasight.desk.homework import open_lesson

    try:
        lesson = open_lesson(context.store, path, now=context.now())
    except LarvasightError as error:
        QMessageBox.warning(window, OPEN_TITLE, plain(str(error)))
        return
    context.homework_changed.emit()
    combs = "1 comb" if len(lesson.tasks) == 1 else f"{len(lesson.tasks)} combs"
    words = f"{lesson.title}: {combs}. It stands on Practise now, above the drills."
    if context.learner is None:
        words = f"{lesson.title}: {combs}. It will stand on Practise once you have given your name."
    QMessageBox.information(window, OPEN_TITLE, plain(words))
    window.go_to("practise")


def ask_results(window: "Window", context: Context) -> None:
    """Ask for result files, bring them in, and show what came of them."""
    names, _ = QFileDialog.getOpenFileNames(window, BRING_TITLE, "", RESULT_KINDS)
    if names:
        bring_in_files(window, context, [Path(name) for name in names])


def bring_in_files(window: "Window", context: Context, paths: list[Path]) -> None:
    """Bring result files in and show what came of them."""
    from larvasight.app.lessons_dialog import LessonsDialog

    dialog = LessonsDialog(window, context)
    dialog.bring_in(paths)
    dialog.exec()
    dialog.deleteLater()


def show_lessons(window: "Window", context: Context) -> None:
    """Show the lessons of this computer, and what came back of each."""
    from larvasight.app.lessons_dialog import LessonsDialog

    dialog = LessonsDialog(window, context)
    dialog.exec()
    dialog.deleteLater()


def _make(window: "Window", context: Context) -> None:
    from larvasight.app.lesson_dialog import make_lesson_here

    make_lesson_here(window, context)

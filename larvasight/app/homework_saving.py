"""Saving what belongs to homework: a result, and a lesson that goes out."""

from uuid import UUID

from PySide6.QtWidgets import QMessageBox, QWidget

from larvasight.app.asking import ask_save_path, plain
from larvasight.app.context import Context
from larvasight.desk import lesson_file, result_file
from larvasight.desk.homework import file_name, kept_lesson, save_result, standing
from larvasight.errors import LarvasightError
from larvasight.sheet import write_whole

LESSON_KINDS = f"larvasight lesson (*{lesson_file.ENDING})"
RESULT_KINDS = f"larvasight result (*{result_file.ENDING})"
_FLUSH_S = 3.0


def ask_save_result(parent: QWidget, context: Context, lesson_id: UUID) -> None:
    """Ask where to save the present learner's result of a lesson, and save it."""
    title, learner = "Save the result", context.learner
    context.keeper.flush(_FLUSH_S)
    try:
        lesson = kept_lesson(context.store, lesson_id)
        if lesson is None or learner is None:
            return
        name = file_name(lesson.title, learner.name, ending=result_file.ENDING)
        path = ask_save_path(parent, title, name, RESULT_KINDS, result_file.ENDING)
        if path is None:
            return
        save_result(context.store, learner, lesson, path, now=context.now())
        stands = standing(context.store, learner.id, lesson)
    except LarvasightError as error:
        QMessageBox.warning(parent, title, plain(str(error)))
        return
    to = lesson.made_by or "your teacher"
    words = (
        f"Saved as {path.name} in {path.parent}. Send this file to {to}. It holds the name "
        f"{learner.name} and the answers to this lesson, nothing else."
    )
    if not stands.is_done:
        words += (
            f" Only {stands.n_done} of {stands.n_tasks} combs are done so far: save it again once "
            "all are."
        )
    QMessageBox.information(parent, title, plain(words))


def ask_save_lesson(parent: QWidget, context: Context, lesson_id: UUID, title: str) -> bool:
    """Ask where to save a lesson file; False when it was not saved."""
    words = "Save the lesson file"
    name = file_name(title, ending=lesson_file.ENDING)
    path = ask_save_path(parent, words, name, LESSON_KINDS, lesson_file.ENDING)
    if path is None:
        return False
    try:
        data = context.store.lesson_file(lesson_id)
        if data is not None:
            write_whole(path, data)
    except LarvasightError as error:
        QMessageBox.warning(parent, words, plain(str(error)))
        return False
    told = (
        f"Saved as {path.name} in {path.parent}. Send it to your students: they open it with "
        "Homework, Open a lesson file, and send back the result file that they save at the end."
    )
    QMessageBox.information(parent, words, plain(told))
    return True

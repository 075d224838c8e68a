"""Close the program without losing an answer."""

from contextlib import suppress

from PySide6.QtWidgets import QMessageBox, QWidget

from larvasight.app.context import Context
from larvasight.app.jobs import wait_for_jobs
from larvasight.desk import keepsakes
from larvasight.errors import LarvasightError

_FLUSH_S = 3.0


def may_leave(parent: QWidget, context: Context) -> bool:
    """Store what is in line and close the records; False when the person stays.

    Parameters
    ----------
    parent : QWidget
        The window, for the question asked when answers cannot be stored.
    context : Context
        Whose records are closed.
    """
    context.leaving.emit()
    while not context.keeper.flush(_FLUSH_S):
        asked = QMessageBox(parent)
        asked.setIcon(QMessageBox.Icon.Warning)
        asked.setText("Some of your answers could not be stored yet.")
        asked.setInformativeText(f"{context.last_trouble} They are kept while the program runs.")
        again = asked.addButton("Try again", QMessageBox.ButtonRole.AcceptRole)
        leave = asked.addButton("Leave without them", QMessageBox.ButtonRole.DestructiveRole)
        asked.addButton("Stay", QMessageBox.ButtonRole.RejectRole)
        asked.exec()
        asked.deleteLater()
        if asked.clickedButton() is leave:
            break
        if asked.clickedButton() is not again:
            return False
        context.keeper.try_again()
    # A disk that is full is told of while practising; leaving must not fail for a backup.
    with suppress(LarvasightError):
        keepsakes.back_up_day(context.store, context.folder, now=context.now())
    # What is measured now is stored by its job.
    wait_for_jobs()
    context.close()
    return True

"""The menus: everything that is not on a page, each with its key."""

from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QFileDialog, QMenu, QMessageBox

from larvasight.app.context import Context
from larvasight.app.help_texts import CAUTIONS, KEYS, NUMBERS
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.learners import choose_learner
from larvasight.app.limits_dialog import ask_limits
from larvasight.app.theme import TEXT_PX_MAX, TEXT_PX_MIN, Look
from larvasight.desk import keepsakes
from larvasight.desk.reporting import local_zone, save_teacher_table
from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from larvasight.app.photos_page import PhotosPage
    from larvasight.app.progress_page import ProgressPage
    from larvasight.app.window import Window

_LOOK_WORDS = {Look.LIGHT: "Light", Look.DARK: "Dark", Look.SYSTEM: "As the system"}
_TEXT_STEP_PX = 2
_BACKUPS = "larvasight backup (*.larvabackup)"


def add_menus(window: "Window", context: Context) -> None:
    """Put all menus into the window."""
    bar = window.menuBar()
    _add_file_menu(bar.addMenu("&File"), window, context)
    _add_learner_menu(bar.addMenu("&Learner"), window, context)
    _add_go_menu(bar.addMenu("&Go to"), window)
    _add_view_menu(bar.addMenu("&View"), window)
    _add_help_menu(bar.addMenu("&Help"), window)


def _action(
    menu: QMenu, words: str, done: Callable[[], object], keys: QKeySequence | str = ""
) -> QAction:
    made = menu.addAction(words)
    made.triggered.connect(lambda _checked=False: done())
    if keys:
        made.setShortcut(QKeySequence(keys))
    return made


def _add_file_menu(menu: QMenu, window: "Window", context: Context) -> None:
    photos = cast("PhotosPage", window.place("photos"))
    progress = cast("ProgressPage", window.place("progress"))

    def open_photos() -> None:
        window.go_to("photos")
        photos.ask_for_photos()

    _action(menu, "Open photos ...", open_photos, "Ctrl+O")
    _action(menu, "Save marked picture ...", photos.save_marked, "Ctrl+S")
    menu.addSeparator()
    _action(menu, "Save report (PDF) ...", progress.save_report, "Ctrl+P")
    _action(menu, "Save the teacher's table (CSV) ...", partial(_save_table, window, context))
    menu.addSeparator()
    _action(menu, "Back up everything ...", partial(_back_up, window, context))
    _action(menu, "Restore a backup ...", partial(_restore, window, context))
    menu.addSeparator()
    _action(menu, "Quit", window.close, "Ctrl+Q")


def _add_learner_menu(menu: QMenu, window: "Window", context: Context) -> None:
    _action(menu, "Who is practising ...", partial(choose_learner, window, context), "Ctrl+L")
    _action(menu, "Wanted ages ...", partial(ask_limits, window, context))


def _add_go_menu(menu: QMenu, window: "Window") -> None:
    from larvasight.app.window import PLACES

    for number, (key, words) in enumerate(PLACES, 1):
        _action(menu, words, partial(window.go_to, key), f"Ctrl+{number}")


def _add_view_menu(menu: QMenu, window: "Window") -> None:
    dressing, settings = window.dressing, window.settings
    group = QActionGroup(menu)

    def wear(look: Look) -> None:
        settings.look = look
        dressing.wear(look=look)

    for look, words in _LOOK_WORDS.items():
        made = _action(menu, words, partial(wear, look))
        made.setCheckable(True)
        made.setChecked(look is dressing.look)
        group.addAction(made)
    menu.addSeparator()

    def resize_text(step_px: int) -> None:
        text_px = min(max(dressing.text_px + step_px, TEXT_PX_MIN), TEXT_PX_MAX)
        settings.text_px = text_px
        dressing.wear(text_px=text_px)

    _action(menu, "Larger text", partial(resize_text, _TEXT_STEP_PX), "Ctrl++")
    _action(menu, "Smaller text", partial(resize_text, -_TEXT_STEP_PX), "Ctrl+-")
    menu.addSeparator()

    def full_screen() -> None:
        window.showNormal() if window.isFullScreen() else window.showFullScreen()

    _action(menu, "Full screen", full_screen, "F11")


def _add_help_menu(menu: QMenu, window: "Window") -> None:
    for words, text, keys in (
        ("Keys", KEYS, "F1"),
        ("What the numbers can tell", NUMBERS, ""),
        ("Before you go to the bees", CAUTIONS, ""),
    ):
        _action(menu, words, partial(_explain, window, words, text), keys)


def _explain(window: "Window", title: str, text: str) -> None:
    shown = QMessageBox(window)
    shown.setWindowTitle(title)
    shown.setText(text)
    shown.exec()


def _save_table(window: "Window", context: Context) -> None:
    name, _ = QFileDialog.getSaveFileName(
        window, "Save the teacher's table", "larvasight.csv", "CSV (*.csv)"
    )
    if name:
        _try(
            window,
            "The teacher's table",
            lambda: save_teacher_table(context.store, _with(name, ".csv"), local_zone()),
        )


def _back_up(window: "Window", context: Context) -> None:
    day = datetime.now(UTC).astimezone().strftime("%Y-%m-%d")
    name, _ = QFileDialog.getSaveFileName(
        window, "Back up everything", f"larvasight {day}.larvabackup", _BACKUPS
    )
    if not name:
        return
    path = _with(name, ".larvabackup")
    context.keeper.flush(3.0)
    try:
        left_out = keepsakes.back_up(context.store, context.folder, path)
    except LarvasightError as error:
        QMessageBox.warning(window, "Back up", str(error))
        return
    told = f"Everything is now also in {path.name}."
    if left_out:
        told = f"{told[:-1]}, but for photos that are missing or damaged: {', '.join(left_out)}."
    QMessageBox.information(window, "Back up", told)


def _restore(window: "Window", context: Context) -> None:
    name, _ = QFileDialog.getOpenFileName(window, "Restore a backup", "", _BACKUPS)
    if not name:
        return
    asked = QMessageBox.question(
        window,
        "Restore a backup",
        f"Put everything in {Path(name).name} in the place of what is here now? What is here now "
        "is set aside, not deleted. The program closes; start it again afterwards.",
    )
    if asked is not QMessageBox.StandardButton.Yes:
        return
    if not context.keeper.flush(3.0):
        QMessageBox.warning(window, "Restore a backup", context.last_trouble)
        return
    context.close()
    wait_for_jobs()
    try:
        before = keepsakes.restore(Path(name), context.folder, now=datetime.now(UTC))
    except LarvasightError as error:
        QMessageBox.warning(window, "Restore a backup", str(error))
    else:
        kept = f" What was here before is kept in {before.name}." if before else ""
        told = f"Everything from {Path(name).name} is in place.{kept} Start larvasight again."
        QMessageBox.information(window, "Restore a backup", told)
    window.leave_at_once()


def _try(window: "Window", title: str, work: Callable[[], object]) -> bool:
    try:
        work()
    except LarvasightError as error:
        QMessageBox.warning(window, title, str(error))
        return False
    return True


def _with(name: str, ending: str) -> Path:
    return Path(name if name.lower().endswith(ending) else f"{name}{ending}")

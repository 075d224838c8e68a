"""The menus: everything that is not on a page, each with its key."""

from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING, cast

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMessageBox

from larvasight.app.asking import (
    BACKUP_ENDING,
    BACKUP_KINDS,
    ask_backup_file,
    ask_save_path,
    ask_yes,
    tell_saved,
)
from larvasight.app.context import Context
from larvasight.app.help_dialog import HelpDialog
from larvasight.app.help_texts import CAUTIONS, KEYS, NUMBERS
from larvasight.app.homework_menu import add_homework_menu
from larvasight.app.jobs import wait_for_jobs
from larvasight.app.learners import choose_learner
from larvasight.app.limits_dialog import ask_limits
from larvasight.app.look_for import show_what_to_look_for
from larvasight.app.loupe_menu import add_loupe_menu
from larvasight.app.rocking import TITLE as ROCKING_TITLE
from larvasight.app.rocking import show_rocking
from larvasight.app.theme import TEXT_PX_DEFAULT, TEXT_PX_MAX, TEXT_PX_MIN, Look
from larvasight.desk import keepsakes
from larvasight.desk.age_chart import save_chart
from larvasight.desk.reporting import local_zone, save_teacher_table
from larvasight.errors import LarvasightError

if TYPE_CHECKING:
    from larvasight.app.photos_page import PhotosPage
    from larvasight.app.progress_page import ProgressPage
    from larvasight.app.window import Window

_LOOK_WORDS = {Look.LIGHT: "Light", Look.DARK: "Dark", Look.SYSTEM: "As the system"}
# Papers of the age chart, by the names that paper.age_chart_parts gives them.
_CHART_PAGES = {"A4": "On A4 paper ...", "LETTER": "On Letter paper ..."}
_TEXT_STEP_PX = 2


def add_menus(window: "Window", context: Context) -> None:
    """Put all menus into the window."""
    bar = window.menuBar()
    _add_file_menu(bar.addMenu("&File"), window, context)
    _add_learner_menu(bar.addMenu("&Learner"), window, context)
    add_homework_menu(bar.addMenu("Home&work"), window, context)
    _add_go_menu(bar.addMenu("&Go to"), window)
    _add_view_menu(bar.addMenu("&View"), window, context)
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
    # Pages are made when they are first asked for.
    def photos() -> "PhotosPage":
        return cast("PhotosPage", window.place("photos"))

    def progress() -> "ProgressPage":
        return cast("ProgressPage", window.place("progress"))

    def open_photos() -> None:
        if context.learner is None:  # the places open with the first name
            words = "Type your name and press Begin first; then photos can be opened."
            QMessageBox.information(window, "Open photos", words)
            return
        window.go_to("photos")
        photos().ask_for_photos()

    _action(menu, "Open photos ...", open_photos, "Ctrl+O")
    _action(menu, "Save marked picture ...", lambda: photos().save_marked(), "Ctrl+S")
    _action(menu, "Save marks by hand ...", lambda: photos().hand.save())
    menu.addSeparator()
    _action(menu, "Save report (PDF) ...", lambda: progress().save_report(), "Ctrl+P")
    _action(menu, "Save charts (PNG, SVG) ...", lambda: progress().save_charts())
    _action(menu, "Save the teacher's table (CSV) ...", partial(_save_table, window, context))
    charts = menu.addMenu("Save the age chart (PDF)")
    for page, words in _CHART_PAGES.items():
        _action(charts, words, partial(_save_age_chart, window, context, page))
    menu.addSeparator()
    _action(menu, "Back up everything ...", partial(_back_up, window, context))
    _action(menu, "Restore a backup ...", partial(_restore, window, context))
    menu.addSeparator()
    # The key is the window's own, so that it works before there are menus.
    _action(menu, "Quit\tCtrl+Q", window.close)


def _add_learner_menu(menu: QMenu, window: "Window", context: Context) -> None:
    _action(menu, "Who is practising ...", partial(choose_learner, window, context), "Ctrl+L")
    _action(menu, "Wanted ages ...", partial(ask_limits, window, context))
    menu.addSeparator()
    _action(menu, "The class ...", partial(_show_class, window, context))
    _action(menu, "Teach a group ...", partial(_teach_group, window, context))
    sheets = menu.addMenu("Print a sheet of 24 cells")
    for page, words in _CHART_PAGES.items():
        _action(sheets, words, partial(_print_sheet, window, context, page))
    _action(menu, "Enter a sheet ...", partial(_enter_sheet, window, context))


def _add_go_menu(menu: QMenu, window: "Window") -> None:
    from larvasight.app.window import PLACES

    for number, (key, words) in enumerate(PLACES, 1):
        _action(menu, words, partial(window.go_to, key), f"Ctrl+{number}")


def _add_view_menu(menu: QMenu, window: "Window", context: Context) -> None:
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

    def set_text(text_px: int) -> None:
        settings.text_px = text_px
        dressing.wear(text_px=text_px)

    def resize_text(step_px: int) -> None:
        set_text(min(max(dressing.text_px + step_px, TEXT_PX_MIN), TEXT_PX_MAX))

    _action(menu, "Larger text", partial(resize_text, _TEXT_STEP_PX), "Ctrl++")
    _action(menu, "Smaller text", partial(resize_text, -_TEXT_STEP_PX), "Ctrl+-")
    normal = partial(set_text, TEXT_PX_DEFAULT)
    _action(menu, "Normal text", normal, "Ctrl+0")
    menu.addSeparator()
    add_loupe_menu(menu, window, context.loupe)
    menu.addSeparator()

    def full_screen() -> None:
        window.showNormal() if window.isFullScreen() else window.showFullScreen()

    _action(menu, "Full screen", full_screen, "F11")


def _add_help_menu(menu: QMenu, window: "Window") -> None:
    _action(menu, "What to look for", partial(_show_what_to_look_for, window))
    _action(menu, ROCKING_TITLE, partial(_rock, window))
    for words, text, keys in (
        ("Keys", KEYS, "F1"),
        ("What the numbers can tell", NUMBERS, ""),
        ("Before you go to the bees", CAUTIONS, ""),
    ):
        _action(menu, words, partial(_explain, window, words, text), keys)


def _show_class(window: "Window", context: Context) -> None:
    from larvasight.app.class_dialog import show_class

    show_class(window, context)


def _teach_group(window: "Window", context: Context) -> None:
    from larvasight.app.group_window import teach_group

    teach_group(window, context)


def _print_sheet(window: "Window", context: Context, page: str) -> None:
    from larvasight.app.sheet_dialog import print_sheet

    print_sheet(window, context, is_letter=page == "LETTER")


def _enter_sheet(window: "Window", context: Context) -> None:
    from larvasight.app.sheet_dialog import enter_sheet

    enter_sheet(window, context)


def _show_what_to_look_for(window: "Window") -> None:
    if window.context is not None:
        show_what_to_look_for(window, window.dressing, window.context.limits)


def _rock(window: "Window") -> None:
    if window.context is not None:
        show_rocking(window, window.context.limits)


def _explain(window: "Window", title: str, text: str) -> None:
    dialog = HelpDialog(window, title, text)
    dialog.exec()
    dialog.deleteLater()


def _save_table(window: "Window", context: Context) -> None:
    title = "Save the teacher's table"
    path = ask_save_path(window, title, "larvasight.csv", "CSV (*.csv)", ".csv")
    if path is None:
        return
    try:
        save_teacher_table(context.store, path, local_zone())
    except LarvasightError as error:
        QMessageBox.warning(window, title, str(error))
    else:
        tell_saved(window, title, path)


def _save_age_chart(window: "Window", context: Context, page: str) -> None:
    from larvasight.paper.age_chart_parts import Page

    title = "Save the age chart"
    path = ask_save_path(window, title, "larvasight age chart.pdf", "PDF (*.pdf)", ".pdf")
    if path is None:
        return
    today = context.now().astimezone(local_zone()).date()
    try:
        save_chart(path, context.limits, page=Page[page], made_on=today)
    except LarvasightError as error:
        QMessageBox.warning(window, title, str(error))
    else:
        tell_saved(window, title, path)


def _back_up(window: "Window", context: Context) -> None:
    title = "Back up everything"
    day = datetime.now(UTC).astimezone().strftime("%Y-%m-%d")
    path = ask_save_path(
        window, title, f"larvasight {day}{BACKUP_ENDING}", BACKUP_KINDS, BACKUP_ENDING
    )
    if path is None:
        return
    context.keeper.flush(3.0)
    try:
        left_out = keepsakes.back_up(context.store, context.folder, path)
    except LarvasightError as error:
        QMessageBox.warning(window, title, str(error))
        return
    told = f"Everything is now also in {path.name}."
    if left_out:
        told = f"{told[:-1]}, but for photos that are missing or damaged: {', '.join(left_out)}."
    QMessageBox.information(window, title, told)


def _restore(window: "Window", context: Context) -> None:
    title = "Restore a backup"
    path = ask_backup_file(window)
    if path is None:
        return
    words = (
        f"Put everything in {path.name} in the place of what is here now? What is here now is set "
        "aside, not deleted."
    )
    if not ask_yes(window, title, words, yes="Restore"):
        return
    if not context.keeper.flush(3.0):
        QMessageBox.warning(window, title, context.last_trouble)
        return
    context.close()
    wait_for_jobs()
    try:
        before = keepsakes.restore(path, keepsakes.folder(), now=datetime.now(UTC))
    except LarvasightError as error:
        QMessageBox.warning(window, title, str(error))
    else:
        kept = f" What was here before is kept as {before}." if before else ""
        QMessageBox.information(window, title, f"Everything from {path.name} is in place.{kept}")
    window.start_over()

"""Questions to the person: where to save, whether really."""

import html
from collections.abc import Iterable
from pathlib import Path

from PySide6.QtCore import QStandardPaths
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

BACKUP_ENDING = ".larvabackup"
BACKUP_KINDS = f"larvasight backup (*{BACKUP_ENDING})"
_REPLACE = "Replace"
_ANSWERS = (QMessageBox.StandardButton.Yes, QMessageBox.StandardButton.Cancel)


def plain(words: str) -> str:
    """Return words so that a message box shows them as they are: names are no markup."""
    if "<" not in words:
        return words
    return html.escape(words, quote=False).replace("\n", "<br>")


def ask_yes(parent: QWidget, title: str, words: str, *, yes: str) -> bool:
    """Ask before something is done; ``yes`` names it on its button. Enter alone means no."""
    kind, (do, leave) = QMessageBox.Icon.Question, _ANSWERS
    box = QMessageBox(kind, title, plain(words), do | leave, parent)
    box.button(do).setText(yes)
    box.setDefaultButton(leave)
    answer = box.exec()
    box.deleteLater()
    return answer == do


def ask_save_path(parent: QWidget, title: str, name: str, kinds: str, ending: str) -> Path | None:
    """Ask where to save a file; None when the person gives up.

    Parameters
    ----------
    parent : QWidget
        Where the question belongs.
    title, name : str
        Title of the dialog, and the file name it offers among the person's documents.
    kinds : str
        What is listed, as Qt writes it.
    ending : str
        Added where the typed name lacks it; a file that this happens to hit is asked about.
    """
    documents = Path(
        QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    )
    folder = documents if documents.is_dir() else Path.home()
    typed, _ = QFileDialog.getSaveFileName(parent, title, str(folder / name), kinds)
    if not typed:
        return None
    if typed.lower().endswith(ending):
        return Path(typed)
    path = Path(f"{typed}{ending}")
    words = f"{path.name} is there already. Replace it?"
    if path.exists() and not ask_yes(parent, title, words, yes=_REPLACE):
        return None
    return path


def ask_folder(parent: QWidget, title: str, names: Iterable[str]) -> Path | None:
    """Ask for a folder to write files of these names into; None when the person gives up."""
    typed = QFileDialog.getExistingDirectory(parent, title)
    if not typed:
        return None
    folder = Path(typed)
    there = [name for name in names if (folder / name).exists()]
    words = f"{len(there)} files of the same names are there already. Replace them?"
    if there and not ask_yes(parent, title, words, yes=_REPLACE):
        return None
    return folder


def tell_saved(parent: QWidget, title: str, path: Path) -> None:
    """Say that a file was saved, and where."""
    QMessageBox.information(parent, title, plain(f"Saved as {path.name} in {path.parent}."))


def ask_backup_file(parent: QWidget) -> Path | None:
    """Ask for a backup to bring back; None when the person gives up."""
    name, _ = QFileDialog.getOpenFileName(parent, "Restore a backup", "", BACKUP_KINDS)
    return Path(name) if name else None

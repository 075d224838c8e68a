"""Write output files whole or not at all."""

from pathlib import Path

from larvasight.errors import OutputFolderError
from larvasight.sheet import Sheet, sheet_to_json


def make_folder(folder: Path) -> None:
    """Make an output folder if it is not there; OutputFolderError says why it cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        msg = f"The folder {folder} cannot be made: {error.strerror or error}."
        raise OutputFolderError(msg) from error


def write_text(path: Path, text: str) -> None:
    """Write a whole file or nothing: a neighbour is written first and then put in place.

    Raises
    ------
    OutputFolderError
        If the file cannot be written.
    """
    part = path.with_name(f"{path.name}.part")
    try:
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True) if part.parent.is_dir() else None
        msg = f"{path} cannot be written: {error.strerror or error}."
        raise OutputFolderError(msg) from error


def write_sheet(path: Path, sheet: Sheet) -> None:
    """Write a sheet as JSON; OutputFolderError if it cannot be written."""
    write_text(path, sheet_to_json(sheet))

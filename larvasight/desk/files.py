"""Output folders and the sheets written into them."""

from pathlib import Path

from larvasight.errors import OutputFolderError
from larvasight.sheet import Sheet, sheet_to_json, write_whole


def make_folder(folder: Path) -> None:
    """Make an output folder if it is not there; OutputFolderError says why it cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        msg = f"The folder {folder} cannot be made: {error.strerror or error}."
        raise OutputFolderError(msg) from error


def write_sheet(path: Path, sheet: Sheet) -> None:
    """Write a sheet as JSON; OutputFolderError if it cannot be written."""
    write_whole(path, sheet_to_json(sheet).encode())

"""Output folders, the sheets written into them, and text in tables."""

from pathlib import Path

from larvasight.errors import OutputFolderError
from larvasight.sheet import Sheet, sheet_to_json, write_whole

# With what a spreadsheet begins a formula, the wide forms of Asian keyboards among it.
_FORMULA_SIGNS = (*"=+-@", *"\uff1d\uff0b\uff0d\uff20")


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


def cell_text(text: str) -> str:
    """Return text for a cell of a CSV table that no spreadsheet takes for a formula."""
    begins = text.lstrip()
    is_plain = not text or (text[0] not in "\t\r\n" and not begins.startswith(_FORMULA_SIGNS))
    return text if is_plain else f"'{text}"

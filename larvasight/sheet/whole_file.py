"""Write a file whole or not at all."""

from contextlib import suppress
from pathlib import Path

from larvasight.errors import OutputFolderError


def write_whole(path: Path, data: bytes) -> None:
    """Write a file beside its place first and then put it there.

    Parameters
    ----------
    path : Path
        File to write; one of that name is replaced.
    data : bytes
        Its content.

    Raises
    ------
    OutputFolderError
        If the file cannot be written; nothing half-written is left.
    """
    part = path.with_name(f"{path.name}.part")
    try:
        # What is there may be a link to a file elsewhere.
        part.unlink(missing_ok=True)
        with part.open("xb") as file:
            file.write(data)
        part.replace(path)
    except OSError as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        reason = (error.strerror or "the system refused").lower()
        msg = f"{path.name} cannot be written: {reason}."
        raise OutputFolderError(msg) from error

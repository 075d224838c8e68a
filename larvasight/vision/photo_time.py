"""When a photo was taken, as the camera noted it."""

import re
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Final

from larvasight.errors import PhotoUnreadableError
from larvasight.vision.photo import EXIF_IFD, open_header

_TAKEN: Final = 0x9003
_OFFSET_TAKEN: Final = 0x9011
_OFFSET: Final = re.compile(r"([+-])(\d\d):(\d\d)")
_YEAR_LEAST: Final = 1990


def noted_time(path: Path) -> datetime | None:
    """Return when a photo was taken by its camera's clock.

    Parameters
    ----------
    path : Path
        The photo file.

    Returns
    -------
    datetime or None
        Aware where the camera noted how far its clock was ahead of UTC, else without a zone: then
        it is the time of the place. None where nothing sensible was noted or nothing can be read.

    References
    ----------
    .. [1] CIPA DC-008 (Exif 2.32): DateTimeOriginal, OffsetTimeOriginal.
    """
    try:
        image = open_header(path.read_bytes(), path.name)
        notes = image.getexif().get_ifd(EXIF_IFD)
        taken, offset = str(notes.get(_TAKEN, "")), str(notes.get(_OFFSET_TAKEN, ""))
    except (OSError, PhotoUnreadableError):
        return None
    except Exception:  # notes of any shape, or damaged: the picture may still be good
        return None
    try:
        at = datetime.strptime(taken.strip("\0 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007
    except ValueError:
        return None
    if at.year < _YEAR_LEAST:
        return None
    found = _OFFSET.fullmatch(offset.strip("\0 "))
    if found is None:
        return at
    ahead = timedelta(hours=int(found[2]), minutes=int(found[3]))
    if ahead >= timedelta(hours=24):
        return at
    return at.replace(tzinfo=timezone(-ahead if found[1] == "-" else ahead))

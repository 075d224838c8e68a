"""Lesson and result files: a zip of JSON and WebP, checked before anything of it is used.

Nothing is ever unpacked onto the disk, and no name in the file names a path here.
"""

import json
import re
import struct
import zipfile
import zlib
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from importlib import resources
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from larvasight.errors import HomeworkInvalidError

if TYPE_CHECKING:
    from jsonschema import Draft202012Validator

VERSION: Final = 1
FILE_BYTES_MAX: Final = 80_000_000
_MEMBER_BYTES_MAX: Final = 12_000_000
_MEMBERS_MAX: Final = 100
# What is in the file may be so many times as large as the file, and this much more.
_SWELLING_MAX, _SWELLING_SPARE_BYTES = 60, 4_000_000
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_NAMES = re.compile(r"lesson\.json|result\.json|combs/[0-9]{2}\.(webp|json)")
_UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    IndexError,
    KeyError,
    NotImplementedError,
    OverflowError,
    RuntimeError,
    ValueError,
    OSError,
    struct.error,
)


def invalid(name: str, why: str) -> HomeworkInvalidError:
    """Return the error for a file that cannot be used."""
    return HomeworkInvalidError(f"{name} {why}, so nothing was changed.")


def read_file(path: Path) -> bytes:
    """Return the content of a file of a size that lessons and results have."""
    try:
        with path.open("rb") as stream:
            data = stream.read(FILE_BYTES_MAX + 1)
    except OSError as error:
        raise invalid(path.name, "cannot be read") from error
    if len(data) > FILE_BYTES_MAX:
        raise invalid(path.name, "is larger than a lesson or result can be")
    return data


def pack(members: Mapping[str, bytes], made_at_utc: datetime) -> bytes:
    """Return members as a zip file; pictures are stored as they are, the rest is deflated."""
    stream = BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, data in members.items():
            entry = zipfile.ZipInfo(
                name, (max(made_at_utc.year, 1980), *made_at_utc.timetuple()[1:6])
            )
            is_picture = name.endswith(".webp")
            entry.compress_type = zipfile.ZIP_STORED if is_picture else zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            archive.writestr(entry, data)
    return stream.getvalue()


def unpack(data: bytes, name: str, main: str) -> dict[str, bytes]:
    """Return what a file holds.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, to tell the person.
    main : str
        The member that says what it is: ``lesson.json`` or ``result.json``.

    Raises
    ------
    HomeworkInvalidError
        If it is no such file, is damaged or holds what none holds.
    """
    what = "lesson" if main == "lesson.json" else "result"
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            entries = archive.infolist()
            _require_usual(entries, len(data), name, main, what)
            return {entry.filename: _member(archive, entry) for entry in entries}
    except _UNREADABLE as error:
        raise invalid(name, f"is damaged or no {what} of larvasight") from error


def _require_usual(
    entries: list[zipfile.ZipInfo], n_bytes: int, name: str, main: str, what: str
) -> None:
    names = {entry.filename for entry in entries}
    if main not in names:
        raise invalid(name, f"is no {what} of larvasight")
    is_usual = (
        len(names) == len(entries) <= _MEMBERS_MAX
        and all(_NAMES.fullmatch(each) for each in names)
        and all(entry.compress_type in _METHODS and not entry.flag_bits & 1 for entry in entries)
        and all(0 <= entry.file_size <= _MEMBER_BYTES_MAX for entry in entries)
        and sum(entry.file_size for entry in entries)
        <= _SWELLING_MAX * n_bytes + _SWELLING_SPARE_BYTES
    )
    if not is_usual:
        raise invalid(name, f"holds what no {what} holds")


def _member(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    with archive.open(entry) as stream:
        data = stream.read(entry.file_size + 1)
    if len(data) != entry.file_size:
        msg = f"{entry.filename} is not as long as the file says"
        raise zipfile.BadZipFile(msg)
    return data


def read_json(data: bytes, name: str, what: str) -> dict[str, Any]:
    """Return the JSON that says what a file is, checked against the schema of its kind.

    Parameters
    ----------
    data : bytes
        JSON text, UTF-8.
    name : str
        Name of the file, to tell the person.
    what : str
        ``lesson`` or ``result``.

    Raises
    ------
    HomeworkInvalidError
        If it does not follow the schema, or is of a newer version.
    """
    try:
        found = json.loads(data.decode("utf-8"), parse_constant=_refuse)
    except (ValueError, RecursionError) as error:
        raise invalid(name, f"is damaged or no {what} of larvasight") from error
    if not isinstance(found, dict) or found.get("format") != f"larvasight.{what}":
        raise invalid(name, f"is no {what} of larvasight")
    version = found.get("version")
    if type(version) is int and version > VERSION:
        msg = (
            f"{name} was made by a newer version of larvasight, so nothing was changed; install "
            "that version to read it."
        )
        raise HomeworkInvalidError(msg)
    if not _follows(found, what):
        raise invalid(name, f"does not follow the form of a {what}")
    return found


def _follows(found: dict[str, Any], what: str) -> bool:
    try:
        return next(_schema(what).iter_errors(found), None) is None
    except RecursionError:  # lists within lists can be read deeper than compared
        return False


def _refuse(constant: str) -> None:
    msg = f"{constant} is no JSON number"
    raise ValueError(msg)


@cache
def _schema(what: str) -> "Draft202012Validator":
    from jsonschema import Draft202012Validator

    text = resources.files("larvasight.desk").joinpath(f"formats/{what}.schema.json").read_text()
    return Draft202012Validator(json.loads(text))

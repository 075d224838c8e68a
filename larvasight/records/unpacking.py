"""Taking a backup file apart. Whoever made the file, nothing leaves the folder given."""

import errno
import hashlib
import json
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from larvasight.errors import BackupInvalidError
from larvasight.records.photos import SHA256_PATTERN, SUFFIX_PATTERN

FORMAT_NAME: Final = "larvasight.backup"
FORMAT_VERSION: Final = 1
ABOUT: Final = "about.json"
RECORDS: Final = "records.db"
CHUNK_BYTES: Final = 1 << 20

MEMBERS_MAX: Final = 20_000
ABOUT_BYTES_MAX: Final = 1 << 16
RECORDS_BYTES_MAX: Final = 2 << 30
PHOTO_BYTES_MAX: Final = 400_000_000
# Records shrink to a third or less; what would swell a hundred times is no backup.
SWELLING_MAX: Final = 100
_SWELLING_SPARE_BYTES: Final = 16 << 20

_PHOTO = re.compile(rf"photos/({SHA256_PATTERN}){SUFFIX_PATTERN}")
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED: Final = 0x1
_UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    IndexError,
    NotImplementedError,
    OverflowError,
    RuntimeError,
    ValueError,
    struct.error,
)


def invalid(file: Path, why: str) -> BackupInvalidError:
    """Return the error for a file that cannot be restored."""
    return BackupInvalidError(f"{file.name} {why}, so nothing was changed; choose another file.")


def too_new(file: Path) -> BackupInvalidError:
    """Return the error for a backup of a newer version of the program."""
    return BackupInvalidError(
        f"{file.name} was made by a newer version of larvasight, so nothing was changed; install "
        "that version to restore it."
    )


@contextmanager
def open_backup(file: Path) -> Iterator[zipfile.ZipFile]:
    """Open a backup file whose list of contents holds only what backups hold.

    Raises
    ------
    BackupInvalidError
        If it is none, or while it is open turns out to be damaged.
    """
    try:
        stream = file.open("rb")
    except OSError as error:
        raise invalid(file, "cannot be read") from error
    with stream:
        try:
            with zipfile.ZipFile(stream) as archive:
                _check_members(archive.infolist(), file)
                yield archive
        except _UNREADABLE as error:
            raise invalid(file, "is damaged or no backup of larvasight") from error
        except OSError as error:
            if error.errno != errno.EINVAL:  # a place in the file that cannot be
                raise
            raise invalid(file, "is damaged or no backup of larvasight") from error


def _check_members(members: list[zipfile.ZipInfo], file: Path) -> None:
    names = {member.filename for member in members}
    if not {ABOUT, RECORDS} <= names:
        raise invalid(file, "is no backup of larvasight")
    if len(members) > MEMBERS_MAX or len(names) < len(members):
        raise invalid(file, "holds more than a backup holds")
    total_bytes = 0
    for member in members:
        is_named = member.filename in {ABOUT, RECORDS} or _PHOTO.fullmatch(member.filename)
        is_plain = member.compress_type in _METHODS and not member.flag_bits & _ENCRYPTED
        if not is_named or not is_plain:
            raise invalid(file, "holds what no backup holds")
        if not 0 <= member.file_size <= _bytes_max(member.filename):
            raise invalid(file, "holds more than a backup holds")
        total_bytes += member.file_size
    if total_bytes > SWELLING_MAX * file.stat().st_size + _SWELLING_SPARE_BYTES:
        raise invalid(file, "holds more than a backup holds")


def _bytes_max(name: str) -> int:
    return {ABOUT: ABOUT_BYTES_MAX, RECORDS: RECORDS_BYTES_MAX}.get(name, PHOTO_BYTES_MAX)


def check_about(archive: zipfile.ZipFile, file: Path) -> None:
    """Raise BackupInvalidError unless the backup says it is one that this version knows."""
    with archive.open(ABOUT) as stream:
        about = json.loads(stream.read(ABOUT_BYTES_MAX + 1))
    if not isinstance(about, dict) or about.get("format") != FORMAT_NAME:
        raise invalid(file, "is no backup of larvasight")
    version = about.get("version")
    if type(version) is not int or version < 1:
        raise invalid(file, "is no backup of larvasight")
    if version > FORMAT_VERSION:
        raise too_new(file)


def unpack(archive: zipfile.ZipFile, file: Path, folder: Path) -> list[Path]:
    """Unpack the records and every photo into a folder, under names of our own making.

    Returns
    -------
    list of Path
        The photos; the records are ``folder / RECORDS``.

    Raises
    ------
    BackupInvalidError
        If something is not what its name says.
    """
    photos = []
    for member in archive.infolist():
        if member.filename == ABOUT:
            continue
        target = folder / (RECORDS if member.filename == RECORDS else member.filename[7:])
        digest = _unpack_member(archive, member, file, target)
        if photo := _PHOTO.fullmatch(member.filename):
            if digest != photo[1]:
                raise invalid(file, "is damaged")
            photos.append(target)
    return photos


def _unpack_member(
    archive: zipfile.ZipFile, member: zipfile.ZipInfo, file: Path, target: Path
) -> str:
    digest, n_bytes = hashlib.sha256(), 0
    with archive.open(member) as source, target.open("xb") as unpacked:
        while chunk := source.read(CHUNK_BYTES):
            n_bytes += len(chunk)
            if n_bytes > member.file_size:
                raise invalid(file, "holds more than a backup holds")
            digest.update(chunk)
            unpacked.write(chunk)
    if n_bytes != member.file_size:
        raise invalid(file, "is damaged")
    return digest.hexdigest()

"""Everything that is kept in one file, and back again."""

import json
import zipfile
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import larvasight
from larvasight.records.clock import at_utc, utc_ms
from larvasight.records.copies import is_whole, put_in_place, remove_with_companions
from larvasight.records.failures import plain_errors
from larvasight.records.restoring import restore_from
from larvasight.records.store import Store
from larvasight.records.unpacking import ABOUT, CHUNK_BYTES, FORMAT_NAME, FORMAT_VERSION, RECORDS

__all__ = ["backup_to", "restore_from"]

_EARLIEST_YEAR: Final = 1980  # a zip file knows no earlier one


def backup_to(
    store: Store, photos_folder: Path, file: Path, *, now: datetime | None = None
) -> tuple[str, ...]:
    """Write all records and photos into one file, whole or not at all.

    Parameters
    ----------
    store : Store
        Open records.
    photos_folder : Path
        Folder of the photos that the records know.
    file : Path
        File to write; one of that name is replaced.
    now : datetime or None
        When the backup is made; None reads the clock.

    Returns
    -------
    tuple of str
        Names of photos left out because their files are missing or damaged.

    Raises
    ------
    StoreFullError, StoreReadOnlyError
        If it cannot be written.
    """
    made_at_utc = at_utc(utc_ms("now", datetime.now(UTC) if now is None else now))
    part = file.with_name(f"{file.name}.part")
    records = file.with_name(f"{file.name}.records.part")
    try:
        with plain_errors(file):
            store.copy_to(records, called=file)
            left_out = _write(store, photos_folder, part, records, made_at_utc)
            put_in_place(part, file)
    finally:
        with suppress(OSError):
            remove_with_companions(records)
            part.unlink(missing_ok=True)
    return left_out


def _write(
    store: Store, photos_folder: Path, part: Path, records: Path, made_at_utc: datetime
) -> tuple[str, ...]:
    about = {
        "format": FORMAT_NAME,
        "version": FORMAT_VERSION,
        "program_version": larvasight.__version__,
        "made_at_utc": made_at_utc.isoformat(),
    }
    left_out = []
    with zipfile.ZipFile(part, "w") as archive:
        entry = _entry(ABOUT, made_at_utc, zipfile.ZIP_DEFLATED)
        archive.writestr(entry, json.dumps(about, indent=1))
        _put(archive, records, _entry(RECORDS, made_at_utc, zipfile.ZIP_DEFLATED))
        for photo in store.photos():
            path = photos_folder / f"{photo.sha256}{photo.suffix}"
            if not is_whole(path, photo.sha256):
                left_out.append(photo.name)
                continue
            _put(archive, path, _entry(f"photos/{path.name}", made_at_utc, zipfile.ZIP_STORED))
    return tuple(left_out)


def _entry(name: str, made_at_utc: datetime, method: int) -> zipfile.ZipInfo:
    parts = made_at_utc.timetuple()
    entry = zipfile.ZipInfo(name, (max(parts[0], _EARLIEST_YEAR), *parts[1:6]))
    entry.compress_type = method
    entry.external_attr = 0o600 << 16
    return entry


def _put(archive: zipfile.ZipFile, path: Path, entry: zipfile.ZipInfo) -> None:
    entry.file_size = path.stat().st_size
    with path.open("rb") as source, archive.open(entry, "w") as target:
        while chunk := source.read(CHUNK_BYTES):
            target.write(chunk)

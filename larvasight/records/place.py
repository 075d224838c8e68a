"""Where the records, their backups and the photos lie."""

import os
from pathlib import Path

from platformdirs import user_data_path

VARIABLE = "LARVASIGHT_DATA"


def data_folder() -> Path:
    """Return the folder of all that is kept; it need not exist.

    The environment variable ``LARVASIGHT_DATA`` names another one.
    """
    named = os.environ.get(VARIABLE, "")
    return Path(named) if named else user_data_path("larvasight", appauthor=False)


def records_path(folder: Path) -> Path:
    """Return the records file in a data folder."""
    return folder / "records.db"


def backups_folder(folder: Path) -> Path:
    """Return the folder of daily backups in a data folder."""
    return folder / "backups"


def photos_folder(folder: Path) -> Path:
    """Return the folder of photos in a data folder."""
    return folder / "photos"

"""Where the drawn comb that comes with the program lies."""

from __future__ import annotations

from pathlib import Path

from larvasight.errors import AssetMissingError

_PACKAGE = Path(__file__).resolve().parent.parent


def assets_dir() -> Path:
    """Return the folder of drawn comb with its truth.

    A source checkout's own folder comes first, so that newly drawn comb is seen at once;
    an installed program has a copy inside the package.

    Returns
    -------
    Path
        An existing folder; nothing in it is to be written to.

    Raises
    ------
    AssetMissingError
        If the installation lacks the folder.
    """
    for folder in _candidates(_PACKAGE):
        if folder.is_dir():
            return folder
    msg = "The drawn comb that comes with larvasight is missing; install larvasight again."
    raise AssetMissingError(msg)


def _candidates(package: Path) -> list[Path]:
    """List where the folder may be, for the package's folder ``package``, best first."""
    installed = package / "_assets" / "synthetic"
    checkout = package.parent
    if (checkout / "pyproject.toml").is_file():
        return [checkout / "assets" / "synthetic", installed]
    return [installed]

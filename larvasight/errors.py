"""Errors a caller can act on, each ending in one plain sentence for the person.

A wrong call raises ``ValueError`` naming the argument; a wrong file, folder or
store raises one of the classes below; a poor picture raises nothing.
"""


class LarvasightError(Exception):
    """Base of every error a user can cause; ``str(error)`` is one plain sentence."""


class PhotoUnreadableError(LarvasightError):
    """The file is missing, empty, damaged or no picture."""


class PhotoChangedError(LarvasightError):
    """The copy of a photo is not what it was when it was measured."""


class PhotoTooLargeError(LarvasightError):
    """The picture or file is beyond the size that is opened."""


class PhotoTooSmallError(LarvasightError):
    """The picture has too few pixels to hold a cell."""


class NoCombError(LarvasightError):
    """No regular pattern of cells was found in the picture."""


class NoOwnCombError(LarvasightError):
    """No own photo has enough cells with a sure answer."""


class LatticeUnusableError(LarvasightError):
    """Cells laid by hand cannot be those of a comb."""


class RulerUnusableError(LarvasightError):
    """Two points on a ruler and its length do not tell the size of the cells."""


class OutputFolderError(LarvasightError):
    """The output folder cannot be made or written to."""


class SheetInvalidError(LarvasightError):
    """A sheet file does not follow the documented format."""


class SheetChangedError(LarvasightError):
    """A sheet on paper has other cells than this version draws for its number."""


class AssetMissingError(LarvasightError):
    """A file that belongs to the program is missing from the installation."""


class StoreBusyError(LarvasightError):
    """Another program holds the records locked."""


class StoreFullError(LarvasightError):
    """The disk has no room left for the records."""


class StoreReadOnlyError(LarvasightError):
    """The records or their folder cannot be written."""


class StoreDamagedError(LarvasightError):
    """The records file is damaged or is no records file."""


class RecordsLostError(StoreDamagedError):
    """The records file is gone, and backups of it are there."""


class StoreTooNewError(LarvasightError):
    """The records file was written by a newer version of the program."""


class BackupInvalidError(LarvasightError):
    """A file is no backup, is damaged, or holds what no backup holds."""


class HomeworkInvalidError(LarvasightError):
    """A file is no lesson or result, is damaged, of a newer version, or fits no lesson here."""


class NameTakenError(LarvasightError):
    """Another learner has this name."""


class NameInvalidError(LarvasightError):
    """A learner's name is empty or too long."""


class LearnerUnknownError(LarvasightError):
    """No learner has this name."""


class GraftInvalidError(LarvasightError):
    """Something noted of a graft cannot be so."""


class TableInvalidError(LarvasightError):
    """A table that is to be brought in has rows that cannot be used."""


class RecordsMissingError(LarvasightError):
    """Nothing was ever kept in this folder."""


class PlanInvalidError(LarvasightError):
    """A plan cannot be read, or its day or number cannot be used."""


def require_positive(name: str, value: float) -> float:
    """Return ``value`` when it is a finite number above zero.

    Parameters
    ----------
    name : str
        Argument name put into the message.
    value : float
        Value to check, any unit.

    Returns
    -------
    float
        ``value`` unchanged.

    Raises
    ------
    ValueError
        If ``value`` is not finite or not above zero.
    """
    if not 0.0 < value < float("inf"):
        msg = f"{name} must be a finite number above 0, got {value}"
        raise ValueError(msg)
    return value


def require_between(name: str, value: float, low: float, high: float) -> float:
    """Return ``value`` when it lies in ``[low, high]``.

    Parameters
    ----------
    name : str
        Argument name put into the message.
    value, low, high : float
        Value and its inclusive limits, one unit.

    Returns
    -------
    float
        ``value`` unchanged.

    Raises
    ------
    ValueError
        If ``value`` lies outside or is not a number.
    """
    if not low <= value <= high:
        msg = f"{name} must lie between {low} and {high}, got {value}"
        raise ValueError(msg)
    return value

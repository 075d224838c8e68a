"""Sheets to JSON and back; readers ignore unknown keys, keys may be added."""

import json
import math
import re
from collections.abc import Mapping
from dataclasses import fields
from enum import Enum
from typing import Any, NoReturn, TypeAlias, TypeVar, get_args, get_origin, get_type_hints

from larvasight.errors import SheetInvalidError
from larvasight.sheet.types import (
    AGE_PRIOR,
    FORMAT_NAME,
    FORMAT_VERSION,
    Cell,
    LatticeInfo,
    PhotoInfo,
    Scale,
    Sheet,
)

_Record: TypeAlias = PhotoInfo | Scale | LatticeInfo | Cell
_T = TypeVar("_T", bound=_Record)

# Keys that belong to one kind of sheet only: truth is exact and has no spread.
_MEASURED_ONLY = frozenset({"length_mm_sd", "curl_deg_sd", "age_h_lo", "age_h_hi"})
_TRUTH_ONLY = frozenset({"looks_age_h"})

# No version will ever have this number: beyond it, the value is nonsense.
_VERSION_BEYOND = 1_000_000

# Halves of characters, as in file names that are not UTF-8; no UTF-8 file can hold them.
_SURROGATES = re.compile("[\ud800-\udfff]")


def sheet_to_dict(sheet: Sheet) -> dict[str, Any]:
    """Return the sheet as plain JSON values.

    Parameters
    ----------
    sheet : Sheet
        Truth or measured sheet.

    Returns
    -------
    dict
        The documented layout; numbers rounded to 4 decimals, NaN as null.
    """
    dropped = _MEASURED_ONLY if sheet.truth else _TRUTH_ONLY
    cells = [
        {key: value for key, value in _record(cell).items() if key not in dropped}
        for cell in sheet.cells
    ]
    lattice = _record(sheet.lattice)
    if sheet.truth:  # drawn comb lies as it was drawn
        del lattice["by_hand"]
    return {
        "format": FORMAT_NAME,
        "version": FORMAT_VERSION,
        "truth": sheet.truth,
        "age_prior": AGE_PRIOR,
        "photo": _record(sheet.photo),
        "scale": _record(sheet.scale),
        "lattice": lattice,
        "cells": cells,
    }


def sheet_to_json(
    sheet: Sheet,
    *,
    beside: Mapping[str, Mapping[int, Mapping[str, object]]] | None = None,
    also: Mapping[str, Mapping[str, object]] | None = None,
) -> str:
    """Return the sheet as JSON text, one cell to a line, ending in a newline.

    The text can always be written as UTF-8.

    Parameters
    ----------
    sheet : Sheet
        Truth or measured sheet.
    beside : mapping, optional
        Keys to add to cells: by the key, what each cell of an index holds under it.
    also : mapping, optional
        Keys to add to the sheet itself.
    """
    data = sheet_to_dict(sheet)
    cells = data.pop("cells")
    for key, told in (also or {}).items():
        data[key] = {name: _plain(item) for name, item in told.items()}
    for key, values in (beside or {}).items():
        for index, value in values.items():
            cells[index][key] = {name: _plain(item) for name, item in value.items()}
    head = json.dumps(data, ensure_ascii=False, indent=1)[:-2]
    body = ",\n  ".join(json.dumps(cell, ensure_ascii=False) for cell in cells)
    inner = f"\n  {body}\n " if body else ""
    text = f'{head},\n "cells": [{inner}]\n}}\n'
    return _SURROGATES.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def sheet_from_json(text: str) -> Sheet:
    """Read a sheet from JSON text.

    Parameters
    ----------
    text : str
        Content of a sheet file.

    Returns
    -------
    Sheet
        The sheet; unknown keys are ignored, missing optional keys are None.

    Raises
    ------
    SheetInvalidError
        If the text is no sheet, is of another version or a value has the wrong type.
    """
    data = _load(text)
    if not isinstance(data, dict) or data.get("format") != FORMAT_NAME:
        msg = "This file is not a larvasight sheet."
        raise SheetInvalidError(msg)
    _require_version(data.get("version"))
    if not isinstance(data.get("cells"), list):
        msg = 'This sheet has no list "cells".'
        raise SheetInvalidError(msg)
    if not isinstance(data.get("truth"), bool):
        msg = 'This sheet does not say whether it is "truth".'
        raise SheetInvalidError(msg)
    return Sheet(
        truth=data["truth"],
        photo=_read(PhotoInfo, data.get("photo"), "photo"),
        scale=_read(Scale, data.get("scale"), "scale"),
        lattice=_read(LatticeInfo, data.get("lattice"), "lattice"),
        cells=tuple(_read(Cell, c, f"cells[{i}]") for i, c in enumerate(data["cells"])),
    )


def _record(value: _Record) -> dict[str, object]:
    return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}


def _plain(value: object) -> object:
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value


def _load(text: str) -> object:
    try:
        # ValueError: no JSON, or a whole number of more digits than Python reads.
        data: object = json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        msg = "This file is not a larvasight sheet: it is not JSON."
        raise SheetInvalidError(msg) from error
    return data


def _refuse_constant(name: str) -> NoReturn:
    msg = f"{name} is no JSON number"
    raise ValueError(msg)


def _require_version(version: object) -> None:
    if version == FORMAT_VERSION and not isinstance(version, bool):
        return
    told = f"{version}" if type(version) is int and abs(version) < _VERSION_BEYOND else "unknown"
    msg = f"The version of this sheet is {told}; version {FORMAT_VERSION} can be read."
    raise SheetInvalidError(msg)


def _read(kind: type[_T], data: object, where: str) -> _T:
    if not isinstance(data, dict):
        msg = f'This sheet has no object "{where}".'
        raise SheetInvalidError(msg)
    known: dict[str, Any] = {}
    for key, hint in get_type_hints(kind).items():
        if key not in data:
            continue
        try:
            known[key] = _convert(hint, data[key])
        except (TypeError, ValueError, OverflowError) as error:
            msg = f'The value of "{where}.{key}" in this sheet is not of the documented kind.'
            raise SheetInvalidError(msg) from error
    try:
        return kind(**known)
    except TypeError as error:
        msg = f'A required key is missing in "{where}" of this sheet.'
        raise SheetInvalidError(msg) from error


def _convert(hint: object, value: object) -> object:
    """Return a JSON value as the kind a field has; TypeError or ValueError if it is of another."""
    args = get_args(hint)
    if type(None) in args:
        return None if value is None else _convert(args[0], value)
    if get_origin(hint) is tuple:
        return _convert_items(args, value)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return hint(value)
    if hint is float:
        return _finite(value)
    # The exact type: true is no number here.
    if type(value) is hint:
        return value
    msg = f"{type(value)} where {hint} belongs"
    raise TypeError(msg)


def _convert_items(hints: tuple[object, ...], value: object) -> tuple[object, ...]:
    if not isinstance(value, list):
        msg = f"{type(value)} where a list belongs"
        raise TypeError(msg)
    if hints[-1] is Ellipsis:
        return tuple(_convert(hints[0], item) for item in value)
    return tuple(_convert(hint, item) for hint, item in zip(hints, value, strict=True))


def _finite(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        msg = f"{type(value)} where a finite number belongs"
        raise TypeError(msg)
    return float(value)

"""Sheets to JSON and back; readers ignore unknown keys, keys may be added."""

import json
import math
import types
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

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

_T = TypeVar("_T")

# Keys that belong to one kind of sheet only (design of the format, section "truth").
_MEASURED_ONLY = frozenset(
    {"length_mm_sd", "curl_deg_sd", "age_h_lo", "age_h_hi", "confidence", "residual_px"}
)
_TRUTH_ONLY = frozenset({"looks_age_h"})


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
        {key: value for key, value in _plain(cell).items() if key not in dropped}
        for cell in sheet.cells
    ]
    return {
        "format": FORMAT_NAME,
        "version": FORMAT_VERSION,
        "truth": sheet.truth,
        "age_prior": AGE_PRIOR,
        "photo": _plain(sheet.photo),
        "scale": _plain(sheet.scale),
        "lattice": _plain(sheet.lattice),
        "cells": cells,
    }


def sheet_to_json(sheet: Sheet) -> str:
    """Return the sheet as JSON text, one cell to a line, ending in a newline."""
    data = sheet_to_dict(sheet)
    cells = data.pop("cells")
    head = json.dumps(data, ensure_ascii=False, indent=1)[:-2]
    body = ",\n  ".join(json.dumps(cell, ensure_ascii=False) for cell in cells)
    inner = f"\n  {body}\n " if body else ""
    return f'{head},\n "cells": [{inner}]\n}}\n'


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
        If the text is no sheet, is of a later version or a value has the wrong type.
    """
    try:
        data = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as error:
        msg = "This file is not a larvasight sheet: it is not JSON."
        raise SheetInvalidError(msg) from error
    if not isinstance(data, dict) or data.get("format") != FORMAT_NAME:
        msg = "This file is not a larvasight sheet."
        raise SheetInvalidError(msg)
    if data.get("version") != FORMAT_VERSION:
        msg = f"This sheet has version {data.get('version')}; version {FORMAT_VERSION} can be read."
        raise SheetInvalidError(msg)
    if not isinstance(data.get("cells"), list):
        msg = 'This sheet has no list "cells".'
        raise SheetInvalidError(msg)
    return Sheet(
        truth=data.get("truth") is True,
        photo=_read(PhotoInfo, data.get("photo"), "photo"),
        scale=_read(Scale, data.get("scale"), "scale"),
        lattice=_read(LatticeInfo, data.get("lattice"), "lattice"),
        cells=tuple(_read(Cell, c, f"cells[{i}]") for i, c in enumerate(data["cells"])),
    )


def _plain(value: Any) -> Any:  # noqa: ANN401
    if is_dataclass(value):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value


def _read(kind: type[_T], data: object, where: str) -> _T:
    if not isinstance(data, dict):
        msg = f'This sheet has no object "{where}".'
        raise SheetInvalidError(msg)
    hints = get_type_hints(kind)
    known = {
        key: _convert(hints[key], value, f"{where}.{key}")
        for key, value in data.items()
        if key in hints
    }
    try:
        return kind(**known)
    except TypeError as error:
        msg = f'A required key is missing in "{where}" of this sheet.'
        raise SheetInvalidError(msg) from error


def _convert(hint: Any, value: Any, where: str) -> Any:  # noqa: ANN401, C901
    origin, args = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        if value is None:
            return None
        return _convert(next(a for a in args if a is not type(None)), value, where)
    if origin is tuple and isinstance(value, list):
        if args[-1] is Ellipsis:
            return tuple(_convert(args[0], v, where) for v in value)
        if len(value) == len(args):
            return tuple(_convert(a, v, where) for a, v in zip(args, value, strict=True))
    elif isinstance(hint, type) and issubclass(hint, Enum):
        if value in [member.value for member in hint]:
            return hint(value)
    elif hint is float and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    elif hint is int and isinstance(value, int) and not isinstance(value, bool):
        return value
    elif hint is str and isinstance(value, str):
        return value
    msg = f'The value of "{where}" in this sheet is not of the documented kind.'
    raise SheetInvalidError(msg)

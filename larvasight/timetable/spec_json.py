"""A plan's decisions as JSON text, and back."""

import json
from dataclasses import fields
from datetime import datetime
from enum import StrEnum
from typing import Any

from larvasight.errors import PlanInvalidError
from larvasight.timetable.spec import Anchor, PlanSpec, Start, Wanted

_FORMAT = "larvasight.plan"
_VERSION = 1
_KINDS: dict[str, type[StrEnum]] = {"anchor": Anchor, "start": Start, "wanted": Wanted}
_MOMENTS = ("anchor_at", "emerged_at")
_COUNTS = ("n_bars", "cups_per_bar", "n_nucs", "n_nucs_owned", "first_queen")
_TEXTS = ("breeder", "starter")


def spec_to_json(spec: PlanSpec) -> str:
    """Return a plan as JSON text; moments keep their offset from UTC."""
    told: dict[str, Any] = {"format": _FORMAT, "version": _VERSION}
    for field in fields(spec):
        value = getattr(spec, field.name)
        told[field.name] = value.isoformat() if isinstance(value, datetime) else value
    return json.dumps(told, ensure_ascii=False, allow_nan=False)


def spec_from_json(text: str) -> PlanSpec:
    """Return the plan that a text holds; what is unknown in it is passed over.

    Raises
    ------
    PlanInvalidError
        If it is no plan, of a newer version, or holds what no plan can.
    """
    try:
        told = json.loads(text)
        _require_format(told)
        known = {field.name for field in fields(PlanSpec)}
        return PlanSpec(**{name: _read(name, told[name]) for name in told if name in known})
    except (ValueError, LookupError, TypeError, ArithmeticError, RecursionError) as error:
        msg = "This plan cannot be read: it is damaged or from a newer version of larvasight."
        raise PlanInvalidError(msg) from error


def _require_format(told: dict[str, Any]) -> None:
    if told["format"] != _FORMAT or told["version"] != _VERSION:
        msg = "format and version must be those of a plan"
        raise ValueError(msg)


def _read(name: str, value: Any) -> Any:  # noqa: ANN401 - any JSON value
    if name in _KINDS:
        return _KINDS[name](value)
    if name in _MOMENTS:
        return None if value is None and name == "emerged_at" else datetime.fromisoformat(value)
    if name in _TEXTS:
        return str(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        msg = f"{name} must be a number, got {value!r}"
        raise ValueError(msg)  # noqa: TRY004 - one kind of error for a bad plan
    if name in _COUNTS and value != int(value):
        msg = f"{name} must be a whole number, got {value}"
        raise ValueError(msg)
    return int(value) if name in _COUNTS else float(value)

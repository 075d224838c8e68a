"""The contract between drawing, measuring and everything that reads their results."""

from larvasight.sheet.flags import FLAG_SENTENCES, Flag
from larvasight.sheet.json_io import sheet_from_json, sheet_to_dict, sheet_to_json
from larvasight.sheet.types import (
    Cell,
    Content,
    Grade,
    Jelly,
    LatticeByHand,
    LatticeInfo,
    PhotoInfo,
    PointsXY,
    Scale,
    ScaleSource,
    Sheet,
)
from larvasight.sheet.whole_file import write_whole

__all__ = [
    "FLAG_SENTENCES",
    "Cell",
    "Content",
    "Flag",
    "Grade",
    "Jelly",
    "LatticeByHand",
    "LatticeInfo",
    "PhotoInfo",
    "PointsXY",
    "Scale",
    "ScaleSource",
    "Sheet",
    "sheet_from_json",
    "sheet_to_dict",
    "sheet_to_json",
    "write_whole",
]

"""Marks by hand written to a file, beside what was measured."""

from pathlib import Path
from typing import TYPE_CHECKING

from larvasight.desk.by_hand import ByHand
from larvasight.desk.known_age import disagreement, known_to_dict
from larvasight.sheet import Content, sheet_to_json, write_whole

if TYPE_CHECKING:
    from larvasight.records.types import HandMark


def save_marks(path: Path, by_hand: ByHand) -> None:
    """Write the sheet as it was measured, each cell marked by hand with a key ``by_hand``.

    Where the age of the comb is known, the sheet and each larva have a key ``known_age``. That
    by hand holds what the mark makes of the cell: content, line, length, curl, age, grade and
    reason, and when it was made. Marks that lie on no cell, since cells were laid elsewhere, stand
    in ``marks_elsewhere``. Readers that do not know these keys read what was measured.

    Raises
    ------
    LarvasightError
        If the file cannot be written.
    """
    beside = {index: _told(by_hand, index) for index in by_hand.marks}
    known, age = by_hand.known_range, by_hand.known_age
    ages: dict[int, dict[str, object]] = {}
    if known is not None:
        ages = {
            index: {
                "age_h_lo": known.lo_h,
                "age_h_hi": known.hi_h,
                "agrees": not disagreement(cell, known),
            }
            for index, cell in enumerate(by_hand.sheet.cells)
            if cell.content is Content.LARVA
        }
    also: dict[str, dict[str, object]] = {}
    if age is not None:
        also["known_age"] = known_to_dict(age)
    if by_hand.marks_elsewhere:
        also["marks_elsewhere"] = {str(m.id): _bare(m) for m in by_hand.marks_elsewhere}
    text = sheet_to_json(by_hand.measured, beside={"by_hand": beside, "known_age": ages}, also=also)
    write_whole(path, text.encode())


def _bare(mark: "HandMark") -> dict[str, object]:
    return {
        "made_at": mark.made_at_utc.isoformat(),
        "centre_xy_px": mark.centre_xy_px,
        "content": mark.content,
        "line_xy_px": mark.line_xy_px,
        "outline_xy_px": mark.outline_xy_px,
    }


def _told(by_hand: ByHand, index: int) -> dict[str, object]:
    mark, cell = by_hand.marks[index], by_hand.sheet.cells[index]
    is_put_right = mark.line_xy_px is not None or mark.outline_xy_px is not None
    has_line = is_put_right and cell.content is Content.LARVA
    return {
        "id": str(mark.id),
        "made_at": mark.made_at_utc.isoformat(),
        "content": cell.content,
        "line_xy_px": mark.line_xy_px,
        "outline_xy_px": mark.outline_xy_px,
        "midline_xy_px": cell.midline_xy_px if has_line else None,
        **{
            name: getattr(cell, name)
            for name in (
                *("length_mm", "length_mm_sd", "width_mm", "area_mm2", "curl_deg", "curl_deg_sd"),
                *("age_h", "age_h_lo", "age_h_hi", "grade", "reason"),
            )
        },
    }

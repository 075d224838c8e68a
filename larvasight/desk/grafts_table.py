"""The record of grafts as a CSV table, one row for each cup: written out and brought in.

``docs/grafts.md`` says what stands in the columns.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Final
from uuid import UUID, uuid4

from larvasight.desk.files import cell_text
from larvasight.desk.grafting import learner_id_of
from larvasight.errors import TableInvalidError
from larvasight.grafts import DATED, Batch, Cup, Fate, Stage
from larvasight.grafts.marking import day_problem
from larvasight.grafts.typed import FIELDS, read_batch, typed_of
from larvasight.sheet import write_whole

if TYPE_CHECKING:
    from larvasight.records.store import Store
    from larvasight.records.types import Learner

# The number of cups follows from the rows.
BATCH_COLUMNS: Final = ("batch", *(field for field in FIELDS if field != "n_cups"))
CUP_COLUMNS: Final = ("cup", "reached", "fate", *(f"{stage}_on" for stage in DATED))
COLUMNS: Final = BATCH_COLUMNS + CUP_COLUMNS
NEEDED_COLUMNS: Final = ("batch", "day", "time", "grafter", "cup", "reached")
BYTES_MAX: Final = 8_000_000
_SEPARATORS: Final = ",;\t"

Row = dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtIn:
    """How many batches and cups came in, and how many batches were there already."""

    n_batches: int
    n_cups: int
    n_there_already: int


def grafts_table(batches: Iterable[Batch]) -> str:
    """Return batches as CSV text, oldest first, one row for each cup."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for batch in sorted(batches, key=lambda batch: batch.grafted_at):
        typed = typed_of(batch) | {"batch": str(batch.id)}
        shared = {name: cell_text(typed[name]) for name in BATCH_COLUMNS}
        for cup in batch.cups:
            days = {f"{stage}_on": cup.days[stage].isoformat() for stage in cup.days}
            own = {"cup": str(cup.number), "reached": cup.reached, "fate": cup.fate}
            writer.writerow(shared | own | days)
    return text.getvalue()


def save_grafts_table(store: "Store", path: Path) -> None:
    """Write all batches as CSV; OutputFolderError if that cannot be done."""
    write_whole(path, grafts_table(store.batches()).encode("utf-8-sig"))


def bring_in(store: "Store", path: Path, *, now: datetime, zone: tzinfo) -> BroughtIn:
    """Bring in the batches of a CSV table, all or none.

    Batches that the records hold already stay as they are there.

    Raises
    ------
    TableInvalidError
        If the file cannot be read or a row cannot be used; nothing is brought in then.
    LarvasightError
        If the records cannot be written.
    """
    batches = read_table(path, now=now, zone=zone, learners=store.learners())
    there = {batch.id for batch in store.batches()}
    new = [batch for batch in batches if batch.id not in there]
    if new:
        store.put_batches(new, now=now)
    return BroughtIn(
        n_batches=len(new),
        n_cups=sum(len(batch.cups) for batch in new),
        n_there_already=len(batches) - len(new),
    )


def read_table(
    path: Path, *, now: datetime, zone: tzinfo, learners: "Sequence[Learner]" = ()
) -> list[Batch]:
    """Read all batches of a CSV table.

    Raises
    ------
    TableInvalidError
        Naming the line and what is wrong with it.
    """
    found: dict[str, list[tuple[int, Row]]] = {}
    for line, row in _rows(path):
        if not row["batch"]:
            raise _wrong(path, line, "the batch has no name or number")
        found.setdefault(row["batch"].lower(), []).append((line, row))
    if not found:
        raise _refused(path, "holds no cups")
    return [_batch(path, rows, now=now, zone=zone, learners=learners) for rows in found.values()]


def _rows(path: Path) -> Iterator[tuple[int, Row]]:
    """Yield each row with the line it ends on; those without anything in them are passed over."""
    text = _text(path)
    head = text.split("\n", 1)[0]
    separator = max(_SEPARATORS, key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        names = [name.strip().lower() for name in next(reader, [])]
        missing = [name for name in NEEDED_COLUMNS if name not in names]
        if missing:
            raise _refused(path, f"has no column called {', '.join(missing)}")
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) > len(names):
                raise _wrong(path, reader.line_num, "there are more cells than columns")
            row = dict.fromkeys(COLUMNS, "")
            filled = (_plain(cell) for cell in cells)
            row |= dict(zip(names, filled, strict=False))
            yield reader.line_num, row
    except csv.Error as error:
        raise _wrong(path, reader.line_num, "its quotation marks do not fit") from error


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > BYTES_MAX:
            raise _refused(path, f"is larger than {BYTES_MAX // 1_000_000} MB")
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise _refused(path, "cannot be read") from error
    except UnicodeDecodeError as error:
        raise _refused(path, "is no text in UTF-8") from error
    if "\0" in text:
        raise _refused(path, "is no table")
    return text


def _batch(
    path: Path,
    rows: Sequence[tuple[int, Row]],
    *,
    now: datetime,
    zone: tzinfo,
    learners: "Sequence[Learner]",
) -> Batch:
    first_line, first = rows[0]
    for line, row in rows[1:]:
        for name in BATCH_COLUMNS:
            if name != "batch" and row[name] != first[name]:
                raise _wrong(path, line, f"{name} differs from line {first_line} of this batch")
    typed = {name: first[name] for name in FIELDS if name != "n_cups"}
    read = read_batch(
        typed | {"n_cups": str(len(rows))},
        batch_id=_id(first["batch"]),
        zone=zone,
        now=now,
        learner_id=learner_id_of(first["grafter"], learners),
    )
    for field, problem in read.problems.items():
        name = "cup" if field == "n_cups" else field
        raise _wrong(path, first_line, f"{name}: {problem.removesuffix('.')}")
    assert read.batch is not None
    today = now.astimezone(zone).date()
    cups = [_cup(path, line, row, read.batch, today) for line, row in rows]
    ordered = sorted(cups, key=lambda cup: cup.number)
    for number, cup in enumerate(ordered, 1):
        if cup.number != number:
            words = f"the cups of this batch must be numbered from 1 to {len(rows)}"
            raise _wrong(path, first_line, words)
    return replace(read.batch, cups=tuple(ordered))


def _cup(path: Path, line: int, row: Row, batch: Batch, today: date) -> Cup:
    try:
        number = int(row["cup"])
    except ValueError:
        raise _wrong(path, line, f'cup is a whole number; "{row["cup"][:20]}" is not') from None
    try:
        reached, fate = Stage(row["reached"] or "grafted"), Fate(row["fate"] or "open")
    except ValueError:
        stages = ", ".join(Stage)
        words = f"reached is one of {stages}, and fate one of {', '.join(Fate)}"
        raise _wrong(path, line, words) from None
    days = {}
    for stage in DATED:
        typed = row[f"{stage}_on"]
        if typed:
            try:
                days[stage] = date.fromisoformat(typed)
            except ValueError:
                raise _wrong(path, line, f"{stage}_on is a day such as 2027-05-14") from None
    try:
        cup = Cup(number=number, reached=reached, fate=fate, days=days)
    except ValueError:
        words = "number, stage, fate and days of this cup do not go together"
        raise _wrong(path, line, words) from None
    problem = day_problem(batch.grafted_on, cup, today)
    if problem:
        raise _wrong(path, line, problem.removesuffix("."))
    return cup


def _id(typed: str) -> UUID:
    """Return the id of a batch: that of the table where it has one, else a new one."""
    try:
        return UUID(typed)
    except ValueError:
        return uuid4()


def _plain(cell: str) -> str:
    """Return a cell without the sign that kept it from being a formula."""
    text = cell.strip()
    return text[1:] if text.startswith("'") and cell_text(text[1:]) == text else text


def _wrong(path: Path, line: int, words: str) -> TableInvalidError:
    return TableInvalidError(f"{path.name}, line {line}: {words}; nothing was brought in.")


def _refused(path: Path, words: str) -> TableInvalidError:
    return TableInvalidError(f"{path.name} {words}, so nothing was brought in.")

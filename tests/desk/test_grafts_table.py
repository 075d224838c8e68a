"""Grafts go out as a table and come back the same; a bad row brings in nothing at all."""

import csv
import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from larvasight.desk.grafts_table import (
    BYTES_MAX,
    COLUMNS,
    bring_in,
    grafts_table,
    read_table,
    save_grafts_table,
)
from larvasight.errors import OutputFolderError, TableInvalidError
from larvasight.grafts import Alternation, Batch, Cup, Factor, Fate, Stage, Tool, new_cups
from larvasight.records.store import Store

ZONE = ZoneInfo("Europe/Berlin")
NOW = datetime(2027, 6, 20, 9, tzinfo=UTC)
AT = datetime(2027, 5, 14, 10, 30, tzinfo=ZONE)
DOCS = Path(__file__).parents[2] / "docs" / "grafts.md"


def batch(**changes):
    days = {Stage.ACCEPTED: date(2027, 5, 15), Stage.EMERGED: date(2027, 5, 26)}
    values = {
        "id": uuid4(),
        "grafted_at": AT,
        "grafter": "Mira",
        "tool": Tool.BRUSH,
        "alternation": Alternation(factor=Factor.TOOL, value="rigid"),
        "notes": 'Windy; "cold",\nsecond try',
        "room_c": 24.5,
        "cups": (
            Cup(number=1, reached=Stage.EMERGED, days=days),
            Cup(number=2, fate=Fate.LOST),
            Cup(number=3, reached=Stage.CAPPED, fate=Fate.GIVEN_AWAY),
        ),
    }
    return Batch(**(values | changes))


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "records.db", now=NOW) as opened:
        yield opened


@pytest.fixture
def write(tmp_path):
    def _write(text, name="table.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return _write


def read(path, **changes):
    return read_table(path, **({"now": NOW, "zone": ZONE} | changes))


def table(*rows, **first):
    """Return a least table with these cups; ``first`` changes what is shared."""
    shared = {"batch": "1", "day": "2027-05-14", "time": "10:30", "grafter": "Mira"} | first
    names = [*shared, "cup", "reached", "fate", "accepted_on", "emerged_on"]
    lines = [",".join(names)]
    for row in rows:
        lines.append(",".join([*shared.values(), *row, *[""] * (5 - len(row))]))
    return "\n".join(lines) + "\n"


def test_batches_come_back_as_they_went_out(write):
    made = [batch(), batch(grafted_at=AT + timedelta(days=2), cups=new_cups(20), notes="")]
    assert read(write(grafts_table(made))) == made


def test_there_is_one_row_for_each_cup_and_a_documented_column_for_all(write):
    rows = list(csv.DictReader(grafts_table([batch()]).splitlines(keepends=True)))
    assert [row["cup"] for row in rows] == ["1", "2", "3"]
    assert rows[0]["emerged_on"] == "2027-05-26"
    documented = re.findall(
        r"`(\w+)`", "".join(re.findall(r"^\| (`.*?) \|", DOCS.read_text(), re.M))
    )
    assert sorted(documented) == sorted(COLUMNS)


@pytest.mark.parametrize("text", ["=SUM(A1)", "+4", "@here", "-x", "\N{FULLWIDTH EQUALS SIGN}1"])
def test_no_cell_is_taken_for_a_formula_and_the_text_comes_back(write, text):
    made = batch(breeder=text, grafter=text)
    written = grafts_table([made])
    cells = [cell for row in csv.reader(written.splitlines(keepends=True)) for cell in row]
    assert not [cell for cell in cells if cell.startswith(text[0])]
    assert read(write(written)) == [made]


@pytest.mark.parametrize("separator", [";", "\t"])
def test_other_separators_are_read(write, separator):
    text = table(["1", "accepted"], ["2", "grafted", "lost"]).replace(",", separator)
    (made,) = read(write("\ufeff" + text.replace("\n", "\r\n")))
    assert [(cup.reached, cup.fate) for cup in made.cups] == [
        (Stage.ACCEPTED, Fate.OPEN),
        (Stage.GRAFTED, Fate.LOST),
    ]


def test_columns_may_stand_in_any_order_and_unknown_ones_are_passed_over(write):
    text = "weather,cup,reached,batch,grafter,time,day\nfine,1,capped,7,Mira,10:30,2027-05-14\n"
    (made,) = read(write(text))
    assert (made.grafter, made.cups[0].reached) == ("Mira", Stage.CAPPED)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (table(["1", "eaten"]), "line 2: reached is one of"),
        (table(["1", "accepted"], ["x", "accepted"]), 'line 3: cup is a whole number; "x" is not'),
        (table(["1", "accepted"], ["3", "accepted"]), "numbered from 1 to 2"),
        (table(["1", "accepted"], ["1", "accepted"]), "numbered from 1 to 2"),
        (table(["101", "accepted"]), "do not go together"),
        (table(["1", "accepted", "gone"]), "fate one of"),
        (table(["1", "emerged", "", "", "2027-05-12"]), "cannot have emerged on 12 May 2027"),
        (table(["1", "emerged", "", "", "26.5.2027"]), "emerged_on is a day such as"),
        (table(["1", "grafted", "", "2027-05-15"]), "do not go together"),
        (table(["1", "laying", "lost"]), "do not go together"),
        (table(["1", "accepted"], day="14.5.2027"), "line 2: day: Type the day"),
        (table(["1", "accepted"], day="2028-05-14"), "has not come yet"),
        (table(["1", "accepted"], grafter=""), "line 2: grafter: Type who grafted;"),
        (table(["1", "accepted"], room_c="warm"), "line 2: room_c: The room's temperature"),
        (table(["1", "accepted"], tool="spoon"), "line 2: tool: Choose one"),
        (table(["1", "accepted"], batch=""), "the batch has no name or number"),
        (
            table(*[[str(n), "accepted"] for n in range(1, 402)]),
            "line 2: cup: A batch has 1 to 100",
        ),
        (table(), "holds no cups"),
        ("", "has no column called batch, day, time, grafter, cup, reached"),
        ("a,b\n1,2\n", "has no column"),
        (table(["1", "accepted"]) + '"', "quotation marks do not fit"),
        (table(["1", "accepted"]) + "1,2,3,4,5,6,7,8,9,10\n", "more cells than columns"),
        ("batch\0", "is no table"),
    ],
)
def test_a_row_that_cannot_be_used_is_named_and_nothing_comes_in(write, store, text, words):
    path = write(text)
    with pytest.raises(TableInvalidError) as refused:
        bring_in(store, path, now=NOW, zone=ZONE)
    assert words in str(refused.value)
    assert str(refused.value).startswith("table.csv")
    assert str(refused.value).endswith("nothing was brought in.")
    assert store.batches() == []


def test_cups_of_a_batch_that_tell_different_things_are_refused(write):
    text = table(["1", "accepted"], ["2", "accepted"]).replace("Mira,2", "Noor,2")
    with pytest.raises(TableInvalidError, match="line 3: grafter differs from line 2"):
        read(write(text))


def test_a_good_batch_does_not_come_in_beside_a_bad_one(write, store):
    good, bad = table(["1", "accepted"]), table(["1", "eaten"], batch="2")
    with pytest.raises(TableInvalidError, match="line 3"):
        bring_in(store, write(good + bad.split("\n", 1)[1]), now=NOW, zone=ZONE)
    assert store.batches() == []


def test_bringing_in_twice_changes_nothing(write, store):
    path = write(grafts_table([batch(), batch(cups=new_cups(20))]))
    first = bring_in(store, path, now=NOW, zone=ZONE)
    assert (first.n_batches, first.n_cups, first.n_there_already) == (2, 23, 0)
    before = store.batches()
    again = bring_in(store, path, now=NOW, zone=ZONE)
    assert (again.n_batches, again.n_cups, again.n_there_already) == (0, 0, 2)
    assert store.batches() == before


def test_the_grafter_is_tied_to_the_learner_of_that_name(write, store):
    mira = store.add_learner("Mira", now=NOW)
    bring_in(store, write(table(["1", "accepted"], grafter=" MIRA ")), now=NOW, zone=ZONE)
    assert [made.learner_id for made in store.batches()] == [mira.id]


def test_what_is_saved_can_be_read_by_another_program_and_by_this_one(store, tmp_path):
    made = batch()
    store.put_batches([made], now=NOW)
    save_grafts_table(store, tmp_path / "out.csv")
    assert (tmp_path / "out.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    assert read(tmp_path / "out.csv") == [made]
    with pytest.raises(OutputFolderError):
        save_grafts_table(store, tmp_path / "nowhere" / "out.csv")


@pytest.mark.parametrize("content", [b"\xff\xfe" + bytes(40), b"\x80\x81"])
def test_a_file_that_is_no_text_is_refused(tmp_path, content):
    path = tmp_path / "table.csv"
    path.write_bytes(content)
    with pytest.raises(TableInvalidError, match="UTF-8"):
        read(path)


def test_a_file_that_is_missing_or_too_large_is_refused(tmp_path):
    with pytest.raises(TableInvalidError, match="cannot be read"):
        read(tmp_path / "nothing.csv")
    large = tmp_path / "large.csv"
    large.write_bytes(b"x" * (BYTES_MAX + 1))
    with pytest.raises(TableInvalidError, match="larger than 8 MB"):
        read(large)

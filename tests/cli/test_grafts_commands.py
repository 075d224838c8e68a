"""The record of grafts as a script asks for it."""

import csv
from datetime import UTC, datetime
from uuid import uuid4

import pytest

from larvasight.cli.main import run
from larvasight.grafts import Batch, Cup, Fate, Stage, Tool
from larvasight.grafts.acceptance import takes_of
from larvasight.records.store import Store

NOW = datetime(2026, 5, 20, 12, 0, tzinfo=UTC)


@pytest.fixture
def grafted(data):
    """Put two bars into Mira's records, grafted on one day with different tools."""
    with Store.open(data / "records.db", now=NOW) as store:
        for tool, n_accepted in ((Tool.BRUSH, 7), (Tool.RIGID, 6)):
            cups = [Cup(number=k + 1, reached=Stage.ACCEPTED) for k in range(n_accepted)]
            cups += [Cup(number=k + 1, fate=Fate.LOST) for k in range(n_accepted, 10)]
            batch = Batch(
                id=uuid4(), grafted_at=NOW, grafter="Mira Wabe", tool=tool, cups=tuple(cups)
            )
            store.put_batches([batch], now=NOW)
    return data


def test_without_grafts_it_says_so(data, capsys):
    assert run(["grafts"]) == 0
    assert capsys.readouterr().out == "No grafts are noted yet.\n"


def test_it_tells_takes_and_comparisons_in_words(grafted, capsys):
    assert run(["grafts"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("20 May 2026: 13 of 20 accepted (likely 43")
    assert "Tools:" in lines
    assert lines[-1].startswith("  Brush and rigid tool. Too few cups to tell: about 3")


def test_a_table_goes_out_and_comes_in_elsewhere(grafted, tmp_path, capsys):
    table = tmp_path / "grafts.csv"
    assert run(["grafts", "--csv", str(table)]) == 0
    assert len(list(csv.DictReader(table.read_text("utf-8-sig").splitlines()))) == 20
    Store.open(tmp_path / "other" / "records.db", now=NOW).close()
    other = ["grafts", "--read", str(table), "--data", str(tmp_path / "other")]
    capsys.readouterr()
    assert run(other) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert first == "Brought in batches: 2, with 20 cups; there already: 0."
    assert run(other) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert first == "Brought in batches: 0, with 0 cups; there already: 2."


def test_a_bad_table_is_one_line_and_changes_nothing(grafted, tmp_path, capsys):
    table = tmp_path / "grafts.csv"
    table.write_text("batch,day,time,grafter,cup,reached\n1,2026-05-14,10:30,Jon,1,eaten\n")
    assert run(["grafts", "--read", str(table)]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("grafts.csv, line 2: reached is one of")
    assert len(told.err.splitlines()) == 1
    with Store.open(grafted / "records.db", now=NOW) as store:
        assert len(store.batches()) == 2


def test_a_table_is_only_written_as_csv(grafted, tmp_path, capsys):
    assert run(["grafts", "--csv", str(tmp_path / "grafts.db")]) == 2
    assert list(tmp_path.glob("grafts.db")) == []


def test_invented_grafts_go_into_records_without_any_once(data, capsys):
    import invent_grafts

    assert invent_grafts.main([str(data)]) == 0
    assert "invented cups" in capsys.readouterr().out
    assert run(["grafts"]) == 0
    assert "not looked at yet" in capsys.readouterr().out
    assert invent_grafts.main([str(data)]) == 1
    assert "hold grafts already" in capsys.readouterr().err


@pytest.mark.parametrize("hour", [0, 12, 23])
def test_invented_grafts_have_been_made_whatever_the_hour(data, hour):
    import invent_grafts

    now = NOW.replace(hour=hour, minute=5)
    invent_grafts.invent(data, 1, now)
    with Store.open(data / "records.db", now=now) as store:
        batches = store.batches()
    assert max(batch.grafted_at for batch in batches) <= now
    last = max(batches, key=lambda batch: batch.grafted_at)
    assert takes_of(last.cups).n_open == len(last.cups)

"""Records that are gone while backups of them are there: offered, never begun anew unasked."""

from contextlib import closing
from datetime import UTC, datetime

import pytest
from PySide6.QtWidgets import QPushButton

from larvasight.app.comb_supply import CombSupply
from larvasight.app.window import Window
from larvasight.desk import keepsakes


@pytest.fixture
def lost(data, monkeypatch):
    """Lose records that had one learner, Mira; their backup of today stays."""
    monkeypatch.setenv("LARVASIGHT_DATA", str(data))
    monkeypatch.setattr(CombSupply, "want", lambda *_: None)
    now = datetime.now(UTC)
    with closing(keepsakes.open_store(data, now=now)) as store:
        store.add_learner("Mira", now=now)
        keepsakes.back_up_day(store, data, now=now)
    (data / "records.db").unlink()
    return data


@pytest.fixture
def window(lost, dressing, settings, qtbot, words_of):
    made = Window(dressing, settings)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitUntil(lambda: "Your records are missing" in words_of(made.notice))
    return made


def test_the_backup_of_lost_records_is_offered_and_used(window, lost, qtbot, words_of, press):
    use, *others = [button.text() for button in window.notice.findChildren(QPushButton)]
    assert use.startswith("Use the backup of ")
    assert others == ["Choose a backup file ...", "Begin with empty records"]
    assert not any("damaged" in words for words in words_of(window.notice))
    assert not (lost / "records.db").exists()
    press(window.notice, use)
    qtbot.waitUntil(lambda: window.context is not None)
    assert window.context.learner.name == "Mira"


def test_lost_records_can_be_begun_anew_and_their_backup_stays(window, lost, qtbot, press):
    press(window.notice, "Begin with empty records")
    qtbot.waitUntil(lambda: type(window.pages.currentWidget()).__name__ == "Welcome")
    window.close()
    names = sorted(path.name[-5:] for path in (lost / "backups").iterdir())
    assert len(names) == 2
    assert names[0] == "-2.db"

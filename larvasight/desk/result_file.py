"""Result files: what one learner answered of one lesson. See docs/homework.md.

A result holds answers only; what is true of the cells is read from the lesson itself.
"""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from larvasight import __version__
from larvasight.desk.homework_zip import VERSION, invalid, pack, read_json, unpack
from larvasight.desk.lesson_file import time_of, time_text
from larvasight.practice import Answer

ENDING: Final = ".lvresult"
MAIN: Final = "result.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class AnsweredTask:
    """One comb of a lesson as it was answered.

    ``answers`` has for each cell asked, in the lesson's order, the final answer and how long it
    took in ms, or None for a cell that the drill did not come to.
    """

    round_id: UUID
    task: int
    shown_at_utc: datetime
    ended_at_utc: datetime
    answers: tuple[tuple[Answer, int | None] | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What a learner answered of a lesson; the name is as the learner chose it."""

    lesson_id: UUID
    learner_id: UUID
    learner_name: str
    made_at_utc: datetime
    rounds: tuple[AnsweredTask, ...]


def result_bytes(result: Result) -> bytes:
    """Return a result as the content of a file."""
    about = {
        "format": "larvasight.result",
        "version": VERSION,
        "lesson": str(result.lesson_id),
        "made_at_utc": time_text(result.made_at_utc),
        "program_version": __version__,
        "learner": {"id": str(result.learner_id), "name": result.learner_name},
        "rounds": [_round(one) for one in result.rounds],
    }
    return pack({MAIN: json.dumps(about, indent=1).encode()}, result.made_at_utc)


def read_result(data: bytes, name: str) -> Result:
    """Read a result, whoever made the file.

    Parameters
    ----------
    data : bytes
        Content of the file.
    name : str
        Its name, to tell the person.

    Raises
    ------
    HomeworkInvalidError
        If it is no result, is damaged or of a newer version.
    """
    members = unpack(data, name, MAIN)
    about = read_json(members[MAIN], name, "result")
    try:
        return Result(
            lesson_id=UUID(about["lesson"]),
            learner_id=UUID(about["learner"]["id"]),
            learner_name=about["learner"]["name"],
            made_at_utc=time_of(about["made_at_utc"]),
            rounds=_read_rounds(about["rounds"]),
        )
    except (ValueError, OverflowError) as error:
        raise invalid(name, "does not follow the form of a result") from error


def _round(one: AnsweredTask) -> dict[str, Any]:
    return {
        "id": str(one.round_id),
        "task": one.task,
        "shown_at_utc": time_text(one.shown_at_utc),
        "ended_at_utc": time_text(one.ended_at_utc),
        "answers": [
            None if given is None else {"answer": given[0].value, "response_ms": given[1]}
            for given in one.answers
        ],
    }


def _read_rounds(told: list[dict[str, Any]]) -> tuple[AnsweredTask, ...]:
    rounds = tuple(_read_round(one) for one in told)
    if min(len({one.task for one in rounds}), len({one.round_id for one in rounds})) < len(rounds):
        msg = "each comb can be answered once"
        raise ValueError(msg)
    return rounds


def _read_round(told: dict[str, Any]) -> AnsweredTask:
    shown_at_utc, ended_at_utc = time_of(told["shown_at_utc"]), time_of(told["ended_at_utc"])
    if ended_at_utc < shown_at_utc:
        msg = "a comb must be shown before its answers end"
        raise ValueError(msg)
    return AnsweredTask(
        round_id=UUID(told["id"]),
        task=int(told["task"]),
        shown_at_utc=shown_at_utc,
        ended_at_utc=ended_at_utc,
        answers=tuple(
            None if one is None else (Answer(one["answer"]), _ms(one.get("response_ms")))
            for one in told["answers"]
        ),
    )


def _ms(told: float | None) -> int | None:
    return None if told is None else int(told)

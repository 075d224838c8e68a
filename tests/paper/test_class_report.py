"""The class on paper: 22 learners a page, the topic first, cautions on every page."""

from dataclasses import replace
from datetime import date
from io import BytesIO

import numpy as np
import pytest
from pypdf import PdfReader

from larvasight.grading import Limits
from larvasight.paper.class_report import class_pdf
from larvasight.practice.class_line import STATE_WORDS, ClassLine, State
from larvasight.practice.scoring import Outcome, score
from larvasight.stats import Estimate

TOPIC = "The next lesson: larvae that are too old (31 of 400 picks)."


def lines_of(n):
    found = np.full(60, Outcome.RIGHT, dtype=np.int8)
    states = list(State)
    line = ClassLine(
        name="",
        state=State.PRACTISING,
        n_cells=60,
        young=Estimate(value=6.0, lo=4.0, hi=8.0),
        old=Estimate(value=27.0, lo=24.0, hi=30.0),
        score=score(found, np.full(60, np.nan)),
        moved=None,
        last_day=date(2027, 5, 20),
        next_day=date(2027, 5, 23),
        old_limit_h=30.0,
    )
    return [replace(line, name=f"Pupil {k}", state=states[k % 6]) for k in range(n)]


def pages_of(n):
    pdf = class_pdf(
        lines_of(n),
        TOPIC,
        limits=Limits(),
        made_on=date(2027, 5, 21),
        program_version="0.1.0",
    )
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


@pytest.mark.parametrize(("n", "n_pages"), [(0, 1), (1, 1), (22, 1), (23, 2), (200, 10)])
def test_pages_hold_22_learners_each(n, n_pages):
    pages = pages_of(n)
    assert len(pages) == n_pages
    for number, page in enumerate(pages, start=1):
        assert f"2027-05-21, page {number} of {n_pages}" in page


def test_every_learner_stands_on_it_once_and_in_order():
    told = " ".join(pages_of(45))
    places = [told.index(f"Pupil {k} ") for k in range(45)]
    assert places == sorted(places)


def test_the_topic_is_told_on_the_first_page_alone():
    first, second = pages_of(30)
    assert TOPIC in first
    assert TOPIC not in second


def test_every_page_says_what_is_not_told_and_states_in_words():
    for page in pages_of(30):
        assert "picking on a screen is not grafting" in page
        assert "not who is better" in page
        assert all(words in page for words in STATE_WORDS.values())


def test_the_same_class_makes_the_same_file():
    args = {"limits": Limits(), "made_on": date(2027, 5, 21), "program_version": "0.1.0"}
    assert class_pdf(lines_of(3), TOPIC, **args) == class_pdf(lines_of(3), TOPIC, **args)

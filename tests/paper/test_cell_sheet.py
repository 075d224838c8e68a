"""A sheet of 24 cells on paper: one page to tick, one with the key, nothing told by colour."""

import re
from datetime import date
from io import BytesIO

import numpy as np
import pytest
from pypdf import PdfReader

from larvasight.grading import Limits
from larvasight.paper.cell_sheet import sheet_pdf

N_CELLS = 24
KEYS = [f"{k} h: take" if k % 3 else "egg" for k in range(1, N_CELLS + 1)]
# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
A4_PT, LETTER_PT = (595.3, 841.9), (612.0, 792.0)


def made(*, is_letter=False, limits=None, keys=KEYS):
    rng = np.random.default_rng(4)
    pictures = [rng.integers(0, 256, (90, 90, 3), dtype=np.uint8) for _ in range(N_CELLS)]
    return sheet_pdf(
        pictures,
        keys,
        number=314_159,
        limits=limits or Limits(),
        made_on=date(2027, 5, 20),
        program_version="0.1.0",
        is_letter=is_letter,
    )


@pytest.fixture(scope="module")
def pages():
    return PdfReader(BytesIO(made())).pages


def words(page):
    return " ".join(page.extract_text().split())


@pytest.mark.parametrize(("is_letter", "size_pt"), [(False, A4_PT), (True, LETTER_PT)])
@pytest.mark.reference("ISO 216 A4; ANSI/ASME Y14.1 letter (from memory)")
def test_it_is_two_upright_pages_of_the_paper_asked_for(is_letter, size_pt):
    pages = PdfReader(BytesIO(made(is_letter=is_letter))).pages
    assert len(pages) == 2
    for page in pages:
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx(size_pt, abs=1.0)


def test_page_one_numbers_every_cell_and_tells_no_answer(pages):
    told = words(pages[0])
    assert "Tick every larva you would graft" in told
    assert "Sheet 314159" in told
    assert "Name:" in told
    assert "is no licence" in told
    numbers = [int(found) for found in re.findall(r"\b\d{1,2}\b", told)]
    assert sorted(numbers) == list(range(1, N_CELLS + 1))
    assert not any(key in told for key in KEYS)
    assert len(pages[0].images) == N_CELLS


def test_page_two_says_in_words_what_each_cell_is_and_which_ages_were_wanted(pages):
    told = words(pages[1])
    assert "Key of sheet 314159" in told
    assert "Wanted: 6-30 hours after hatching" in told
    assert all(f"{k} {key}" in told for k, key in enumerate(KEYS, start=1))
    assert len(pages[1].images) == 0


def test_the_longest_keys_stay_on_their_page():
    keys = ["22.75 h: just past the limit: not counted"] * N_CELLS
    limits = Limits(young_h=7.5, old_h=31.25)
    page = PdfReader(BytesIO(made(is_letter=True, limits=limits, keys=keys))).pages[1]
    lowest = []
    page.extract_text(
        visitor_text=lambda text, ctm, *_: lowest.append(ctm[5]) if text.strip() else None
    )
    assert words(page).count("just past the limit") == N_CELLS
    assert "Enter the ticks in larvasight" in words(page)
    assert min(lowest) > 20.0  # pt above the lower edge


def test_the_key_is_all_in_black_words(pages):
    content = pages[1].get_contents().get_data()
    colours = set(re.findall(rb"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG|scn|SCN)\b", content))
    assert colours
    assert all(max(map(float, one)) - min(map(float, one)) < 0.2 for one in colours)  # no hue

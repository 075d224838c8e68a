"""Combs composed from tiles that never trained the parser, one of each setting, measured."""

import pytest

from judge import figures, pair_cells
from judge_composed import composed, measured
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import Content
from larvasight.vision.network import NetworkParser


@pytest.fixture(scope="module")
def found():
    library, reader = TileLibrary.load(for_tests=True), NetworkParser()
    pairs = []
    for number, setting in enumerate(library.settings):
        comb = composed(library, setting, [8301, number])
        pairs += pair_cells(comb.sheet, measured(comb, reader))
    return figures(pairs)


def test_contents_are_recognised(found):
    assert found.recall[Content.LARVA] >= 0.91
    assert found.recall[Content.EGG] >= 0.95
    assert found.false_larvae_per_100 <= 1.5


def test_most_larvae_are_measured(found):
    assert found.measured_share >= 0.88
    # 0.15 is wanted.
    assert found.flagged_share <= 0.25


def test_length_and_curl(found):
    assert abs(found.length_bias) <= 0.03  # share of the length
    assert found.length_median <= 0.06
    assert found.curl_median_deg <= 18.0
    # 0.11 and 30 are the bounds on painted comb.
    assert found.length_p90 <= 0.13
    assert found.curl_p90_deg <= 30.0


def test_spoiled_measurements_are_flagged(found):
    unflagged = found.n_spoiled * (1.0 - found.spoiled_flagged_share)
    # 0.02 is wanted, and reached on painted comb: most of these are 15-20 % off in length.
    assert unflagged <= 0.05 * found.n_larvae


def test_bands_hold_the_truth(found):
    assert 0.70 <= found.band_holds_share <= 0.90

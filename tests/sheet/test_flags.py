"""Each flag has one plain sentence for the learner."""

import re

import pytest

from larvasight.sheet import FLAG_SENTENCES, Flag

STATISTICS = re.compile(r"posterior|lattice|midline|kappa|d'|prior|likelihood|deviation", re.I)


def test_every_flag_has_a_sentence():
    assert set(FLAG_SENTENCES) == set(Flag)


@pytest.mark.parametrize("flag", list(Flag))
def test_sentence_is_one_plain_sentence(flag):
    sentence = FLAG_SENTENCES[flag]
    assert sentence[0].isupper()
    assert sentence.endswith(".")
    assert not re.search(r"[.!?]\s", sentence), "more than one sentence"
    assert not STATISTICS.search(sentence)


def test_sentences_differ():
    assert len(set(FLAG_SENTENCES.values())) == len(Flag)

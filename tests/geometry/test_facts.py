"""A fact cannot hide that it has no source."""

import pytest

from larvasight.geometry.facts import Fact, Label


@pytest.mark.parametrize("label", [Label.PUBLISHED, Label.DERIVED, Label.FROM_MEMORY])
def test_a_fact_without_a_source_is_refused(label):
    with pytest.raises(ValueError, match=r"weight is labelled .* and needs a source"):
        Fact(name="weight", value=1.0, unit="mg", label=label)


def test_common_practice_needs_no_source():
    assert Fact(name="age", value=12.0, unit="h", label=Label.COMMON_PRACTICE).source == ""

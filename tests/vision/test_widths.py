"""Widths across midlines, against bodies drawn with a known one."""

import numpy as np
import pytest

from larvasight.vision.midline import N_MIDLINE
from larvasight.vision.widths import body_widths


@pytest.mark.reference("the width that a band was drawn with")
def test_widths_of_narrow_and_of_very_broad_bands_are_those_drawn():
    widths_px = (6.0, 11.0, 23.0, 30.0, 48.0)
    y = np.mgrid[:96, :96][0].astype(np.float32)
    bodies = [
        np.clip(width / 2 - np.abs(y - 47.3) + 0.5, 0.0, 1.0).astype(np.float32)
        for width in widths_px
    ]
    line = np.column_stack([np.linspace(10.0, 86.0, N_MIDLINE), np.full(N_MIDLINE, 47.3)])
    widths = body_widths(np.stack([line] * len(bodies)), bodies)
    # Both edges are read to the next quarter px.
    assert widths == pytest.approx(widths_px, rel=0, abs=0.5)

"""Outlines of many bodies at once, against the same steps of OpenCV for each alone."""

from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
import pytest

from larvasight.vision.outlines import begin_outlines, outline_alone


def body(seed):
    """A soft bent stroke, cut off by the edge of its map where it runs beyond it."""
    rng = np.random.default_rng([43, seed])
    size = rng.integers(20, 70, 2)
    drawn = np.zeros(size, np.float32)
    points = rng.uniform(-4, size[::-1] + 4, (3, 2)).round().astype(np.int32)
    cv2.polylines(drawn, [points], False, 1.0, int(rng.integers(4, 12)))
    return cv2.GaussianBlur(drawn, (0, 0), 1.2)


def outline_by_opencv(chance):
    fine = cv2.resize(chance, None, fx=4, fy=4, interpolation=cv2.INTER_LINEAR) > 0.5
    contours, _ = cv2.findContours(fine.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return np.empty((0, 2))
    return (max(contours, key=len)[::4, 0] + 0.5) / 4 - 0.5


@pytest.mark.reference("OpenCV findContours, one map at a time")
def test_outlines_found_together_are_those_found_alone():
    bodies = [body(seed) for seed in range(21)]
    bodies += [np.zeros((6, 9), np.float32), np.ones((12, 7), np.float32)]
    with ThreadPoolExecutor(1) as pool:
        together = begin_outlines(bodies, pool)()
    assert sum(len(outline) > 0 for outline in together) > 15
    for one, outline in zip(bodies, together, strict=True):
        np.testing.assert_allclose(outline, outline_by_opencv(one), rtol=0, atol=1e-12)
        assert np.array_equal(outline, outline_alone(one))


def test_no_body_gives_no_outline():
    with ThreadPoolExecutor(1) as pool:
        assert begin_outlines([], pool)() == []

"""The path through a broad line, against the same steps of other libraries done one at a time."""

import math

import cv2
import numpy as np
import pytest
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from skimage.morphology import skeletonize

from larvasight.vision.thinning import thin_masks, thin_paths

LIBRARIES = "scikit-image skeletonize and SciPy dijkstra, one line at a time"


def blob(seed):
    """A bent broad stroke with branches, one connected part."""
    rng = np.random.default_rng([41, seed])
    mask = np.zeros((rng.integers(40, 90), rng.integers(40, 90)), np.uint8)
    points = rng.uniform(8, np.array(mask.shape[::-1]) - 8, (4, 2)).round().astype(np.int32)
    cv2.polylines(mask, [points], bool(seed % 2), 1, int(rng.integers(3, 10)))
    return mask.astype(bool)


def path_length(mask):
    thin = np.argwhere(skeletonize(mask))
    apart = np.abs(thin[:, None] - thin[None]).max(axis=2)
    start, end = np.nonzero(apart == 1)
    lengths = np.hypot(*(thin[start] - thin[end]).T)
    graph = coo_matrix((lengths, (start, end)), shape=(len(thin), len(thin))).tocsr()
    away = dijkstra(graph, directed=False, indices=0)
    away = dijkstra(graph, directed=False, indices=int(np.argmax(away)))
    return float(away.max())


@pytest.mark.reference(LIBRARIES)
def test_paths_of_many_lines_are_as_long_as_those_found_one_at_a_time():
    masks = [blob(seed) for seed in range(16)]
    for mask, path in zip(masks, thin_paths(masks), strict=True):
        steps = np.hypot(*np.diff(path, axis=0).T)
        assert steps.max() <= math.sqrt(2.0)
        assert steps.sum() == pytest.approx(path_length(mask), rel=0, abs=1e-9)
        assert skeletonize(mask)[path[:, 0], path[:, 1]].all()


def test_a_single_point_is_a_path_of_one():
    mask = np.zeros((5, 7), bool)
    mask[2, 3] = True
    (path,) = thin_paths([mask])
    assert path.tolist() == [[2, 3]]


def test_no_line_gives_no_path():
    assert thin_paths([]) == []


@pytest.mark.reference("scikit-image skeletonize, one mask at a time")
def test_masks_thinned_together_are_those_thinned_alone_whatever_their_size_and_edge():
    masks = [blob(seed) for seed in range(21)]
    masks += [
        np.ones((3, 50), bool),
        np.ones((30, 30), bool),
        np.ones((9, 30), bool),
        np.zeros((4, 4), bool),
    ]
    for mask, thin in zip(masks, thin_masks(masks), strict=True):
        assert np.array_equal(thin, skeletonize(mask))

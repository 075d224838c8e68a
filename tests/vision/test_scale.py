"""From px to mm: cell size, camera distance and how sure both are."""

from types import SimpleNamespace

import numpy as np
import pytest

from larvasight.errors import RulerUnusableError
from larvasight.geometry import lattice_vectors, offset_to_axial
from larvasight.sheet import ScaleSource
from larvasight.vision.scale import ScaleGuess, is_pitch_doubtful, scale_from_ruler


@pytest.mark.reference("geometry of a pinhole: 10 mm deeper at 180 mm is 5.6 % smaller")
def test_length_factor_follows_the_distance():
    assert ScaleGuess(distance_mm=180.0).length_factor() == pytest.approx(190.0 / 180.0)


def test_an_unknown_distance_costs_certainty():
    known = ScaleGuess(distance_mm=200.0)
    unknown = ScaleGuess()
    assert unknown.length_factor() == pytest.approx(known.length_factor())
    assert unknown.length_sd_share() > known.length_sd_share() + 0.005


def test_a_measured_cell_size_is_surer_than_an_assumed_one():
    given = ScaleGuess(pitch_mm=5.1, distance_mm=200.0, source=ScaleSource.GIVEN)
    assert given.length_sd_share() < ScaleGuess(distance_mm=200.0).length_sd_share()


@pytest.mark.parametrize("pitch_mm", [0.0, 3.9, 7.6, float("nan")])
def test_impossible_cell_sizes_are_refused(pitch_mm):
    with pytest.raises(ValueError, match="pitch_mm"):
        ScaleGuess(pitch_mm=pitch_mm)


@pytest.mark.parametrize("distance_mm", [0.0, -5.0, float("inf")])
def test_impossible_distances_are_refused(distance_mm):
    with pytest.raises(ValueError, match="distance_mm"):
        ScaleGuess(distance_mm=distance_mm)


PITCH_PX = 80.0


def lattice(*, pitch_px=PITCH_PX, angle_deg=12.0, squeeze=1.0, perspective=0.0, hidden=None):
    """Cells of a comb seen from above, aslant (``squeeze``) or in perspective."""
    cells = []
    for row in range(14):
        for col in range(14):
            plane = np.array(offset_to_axial(row, col)) @ lattice_vectors(pitch_px, angle_deg)
            x, y = plane * [1.0, squeeze] / (1.0 + perspective * plane[0])
            covered = hidden is not None and hidden(x, y)
            cells.append(
                SimpleNamespace(
                    row=row, col=col, centre_xy_px=(x, y), confidence=0.1 if covered else 0.9
                )
            )
    return SimpleNamespace(cells=cells)


def on_comb(plane_xy, *, angle_deg=12.0, squeeze=1.0, perspective=0.0):
    """Where points of the comb, in pitches, lie in the picture."""
    plane = PITCH_PX * np.array(plane_xy)
    turn = np.radians(angle_deg)
    plane = plane @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return plane * [1.0, squeeze] / (1.0 + perspective * plane[:, :1])


RULERS = [
    ([[2.0, 4.0], [10.0, 4.0]], 8.0),
    ([[3.0, 2.0], [3.0, 9.0]], 7.0),
    ([[2.0, 2.0], [10.0, 8.0]], 10.0),
]


@pytest.mark.reference("ten cells across are 49-54 mm of comb: common practice")
@pytest.mark.parametrize("pitch_mm", [4.9, 5.3, 5.4])
def test_ten_cells_along_a_ruler_give_the_cell_size(pitch_mm):
    points = on_comb([[1.0, 5.0], [11.0, 5.0]])
    scale = scale_from_ruler(points, 10.0 * pitch_mm, lattice())
    assert scale.pitch_mm == pytest.approx(pitch_mm, rel=1e-6)
    assert scale.px_per_mm == pytest.approx(PITCH_PX / pitch_mm, rel=1e-6)
    guess = scale.guess(distance_mm=180.0)
    assert guess.source is ScaleSource.RULER
    assert guess.length_sd_share() < ScaleGuess(distance_mm=180.0).length_sd_share()


@pytest.mark.parametrize(("ends", "n_pitches"), RULERS)
@pytest.mark.parametrize("seen", [{"squeeze": 0.75}, {"perspective": 1e-4}, {"angle_deg": -25.0}])
def test_neither_tilt_nor_perspective_nor_direction_falsifies_the_cell_size(ends, n_pitches, seen):
    scale = scale_from_ruler(on_comb(ends, **seen), 5.1 * n_pitches, lattice(**seen))
    assert scale.pitch_mm == pytest.approx(5.1, rel=0.006)


def test_cells_under_the_ruler_need_not_show():
    points = on_comb([[1.0, 5.0], [11.0, 5.0]])
    low, high = points[:, 1].min() - 90.0, points[:, 1].max() + 90.0
    seen = lattice(hidden=lambda x, y: low < y < high)
    assert scale_from_ruler(points, 53.0, seen).pitch_mm == pytest.approx(5.3, rel=0.001)


def test_a_click_three_px_off_costs_less_than_one_per_cent():
    points = on_comb([[1.0, 5.0], [11.0, 5.0]]) + np.array([[0.0, 0.0], [3.0, 2.0]])
    assert scale_from_ruler(points, 53.0, lattice()).pitch_mm == pytest.approx(5.3, rel=0.01)


@pytest.mark.parametrize(
    ("ends", "length_mm", "word"),
    [
        ([[3.0, 5.0], [5.0, 5.0]], 10.6, "close together"),
        ([[3.0, 5.0], [3.0, 5.0]], 10.6, "close together"),
        ([[1.0, 5.0], [11.0, 5.0]], 10.0, "1.0 mm wide"),
        ([[1.0, 5.0], [11.0, 5.0]], 69.0, "6.9 mm wide"),
        ([[1.0, 5.0], [11.0, 5.0]], 530.0, "53.0 mm wide"),
        ([[-30.0, 5.0], [-10.0, 5.0]], 106.0, "beside the comb"),
    ],
)
def test_a_ruler_that_cannot_be_right_is_refused_in_one_sentence(ends, length_mm, word):
    with pytest.raises(RulerUnusableError, match=word) as caught:
        scale_from_ruler(on_comb(ends), length_mm, lattice())
    assert str(caught.value).endswith(".")


def test_a_picture_without_sure_cells_takes_no_ruler():
    with pytest.raises(RulerUnusableError, match="Too few cells"):
        scale_from_ruler([[0, 0], [400, 0]], 53.0, lattice(hidden=lambda x, y: True))


@pytest.mark.parametrize("points", [[[0, 0]], [[0, 0], [float("nan"), 1]], [0, 1, 2, 3]])
def test_a_wrong_call_names_the_points(points):
    with pytest.raises(ValueError, match="points_xy_px"):
        scale_from_ruler(points, 53.0, lattice())


@pytest.mark.parametrize("length_mm", [0.0, -5.0, float("nan"), float("inf")])
def test_a_wrong_call_names_the_length(length_mm):
    with pytest.raises(ValueError, match="length_mm"):
        scale_from_ruler(on_comb([[1.0, 5.0], [11.0, 5.0]]), length_mm, lattice())


@pytest.mark.parametrize(
    ("pitch_mm", "doubtful"), [(4.5, True), (4.6, False), (5.6, False), (6.9, True)]
)
def test_a_cell_size_that_no_worker_comb_has_is_doubtful(pitch_mm, doubtful):
    guess = ScaleGuess(pitch_mm=pitch_mm, source=ScaleSource.GIVEN)
    assert is_pitch_doubtful(guess, 100.0, None) is doubtful


@pytest.mark.reference("a pinhole shows 1 mm at distance d as f / d px")
@pytest.mark.parametrize(
    ("true_mm", "doubtful"), [(5.3, False), (4.9, False), (6.4, True), (4.4, True)]
)
def test_lens_and_distance_tell_a_cell_size_that_is_far_off(true_mm, doubtful):
    guess = ScaleGuess(distance_mm=200.0)
    pitch_px = true_mm * 3000.0 / 200.0
    assert is_pitch_doubtful(guess, pitch_px, 3000.0) is doubtful
    assert not is_pitch_doubtful(guess, pitch_px, None)
    assert not is_pitch_doubtful(ScaleGuess(), pitch_px, 3000.0)
    ruled = ScaleGuess(distance_mm=200.0, source=ScaleSource.RULER)
    assert not is_pitch_doubtful(ruled, pitch_px, 3000.0)

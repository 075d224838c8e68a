"""Drawn hexagon cells are found where they were drawn; nothing else is taken for comb."""

import math

import cv2
import numpy as np
import pytest

from larvasight.errors import NoCombError
from larvasight.geometry import fold_row_angle_deg, offset_to_axial
from larvasight.vision.lattice import FoundLattice, find_lattice

AXIAL_TO_PLANE = np.array([[1.0, 0.0], [0.5, math.sqrt(3.0) / 2.0]])

# Greatest distance of a found cell from the drawn one, in pitches; the drawn rims are even, so
# this is the error of the measurement alone.
PLACE_TOLERANCE_PITCH = 0.06
PITCH_TOLERANCE = 0.01
ANGLE_TOLERANCE_DEG = 0.7


def frame(pitch_px, angle_deg, size_px, *, tilt_deg=0.0, axis_deg=0.0, distance=3.0):
    """Map from the lattice plane to a picture taken by a tilted camera, a cell in its middle."""
    width, height = size_px
    turn, tilt, axis = (math.radians(a) for a in (angle_deg, tilt_deg, axis_deg))
    rotate = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    across = np.array([-math.sin(axis), math.cos(axis)])
    squeeze = np.eye(2) + (math.cos(tilt) - 1.0) * np.outer(across, across)
    matrix = np.eye(3)
    matrix[:2, :2] = pitch_px * squeeze @ rotate
    reach_px = distance * max(width, height)
    matrix[2, :2] = pitch_px * math.sin(tilt) / reach_px * (across @ rotate)
    middle = np.eye(3)
    middle[:2, 2] = [0.5 * width + 0.21 * pitch_px, 0.5 * height - 0.13 * pitch_px]
    return middle @ matrix


def project(matrix, plane):
    moved = plane @ matrix[:, :2].T + matrix[:, 2]
    return moved[:, :2] / moved[:, 2:]


def drawn_cells(matrix, size_px, reach=40):
    """Axial positions and places of the cells whose middle is in the picture."""
    r, q = (n.ravel() for n in np.mgrid[-reach : reach + 1, -reach : reach + 1])
    axial = np.column_stack([q, r])
    plane = axial @ AXIAL_TO_PLANE
    ahead = plane @ matrix[2, :2] + matrix[2, 2] > 0.2
    places = project(matrix, plane[ahead])
    inside = ((places >= 0.0) & (places <= np.array(size_px) - 1.0)).all(axis=1)
    return axial[ahead][inside], places[inside]


def draw_comb(rng, matrix, size_px, *, rim_pitch=0.12, contents="mixed", contrast=70.0):
    """Paint cells of very different insides with rims of one brightness between them."""
    width, height = size_px
    y, x = np.mgrid[0:height, 0:width].astype(float)
    plane = project(np.linalg.inv(matrix), np.column_stack([x.ravel(), y.ravel()]))
    exact = np.linalg.solve(AXIAL_TO_PLANE.T, plane.T).T
    corners = np.array([[0, 0], [1, 0], [0, 1], [1, 1]])
    near = np.floor(exact)[:, None, :] + corners
    distance = np.hypot(*np.moveaxis((near - exact[:, None, :]) @ AXIAL_TO_PLANE, -1, 0))
    order = np.argsort(distance, axis=1)
    rows = np.arange(len(exact))
    own = near[rows, order[:, 0]].astype(int)
    first, second = distance[rows, order[:, 0]], distance[rows, order[:, 1]]
    names = (own[:, 0] * 7919 + own[:, 1] * 104729) % 65536
    inside = _insides(rng, plane - own @ AXIAL_TO_PLANE, first, names, contents)
    rim = np.exp(-(((second - first) / rim_pitch) ** 2))
    rims = 60.0 + contrast + rng.normal(0.0, 6.0, 65536)[names]
    gray = (inside * (1.0 - rim) + rims * rim).reshape(height, width)
    gray = cv2.GaussianBlur(gray, (0, 0), 0.8) + rng.normal(0.0, 2.0, gray.shape)
    colour = gray[..., None] * np.array([1.15, 0.9, 0.55])
    return np.clip(colour, 0, 255).astype(np.uint8)


def _insides(rng, local, radius, names, contents):
    dark = 35.0 + rng.uniform(-12.0, 12.0, 65536)[names] - 12.0 * local[:, 1]
    if contents == "dark":
        return dark
    # Three floor facets of different brightness, their edges running from middle to corners.
    facet = np.argmax(
        [local @ [math.cos(a), math.sin(a)] for a in (0.5236, 2.618, -1.5708)], axis=0
    )
    facets = 40.0 + np.array([0.0, 14.0, 38.0])[facet]
    if contents == "facets":
        return facets
    larva = np.where(radius < 0.3, 170.0, 45.0)
    kind = rng.integers(0, 3, 65536)[names]
    return np.choose(kind, [dark, facets, larva])


def errors_pitch(lattice, places, matrix):
    """Distance of each drawn cell from the nearest found one, in pitches."""
    found = np.array([c.centre_xy_px for c in lattice.cells])
    distance = np.hypot(*np.moveaxis(found[None] - places[:, None], -1, 0))
    return distance.min(axis=1) / lattice.pitch_px


def name_shifts(cells, axial, places):
    """Differences between found and drawn lattice positions; one for consistent names."""
    shifts = set()
    for cell in cells:
        apart_px = np.hypot(*(places - cell.centre_xy_px).T)
        drawn = int(apart_px.argmin())
        if apart_px[drawn] > 5.0:  # the drawn cell's middle is just out of the picture
            continue
        shifts.add(tuple(int(n) for n in offset_to_axial(cell.row, cell.col) - axial[drawn]))
    return shifts


def assert_found(lattice: FoundLattice, matrix, size_px, *, share=1.0):
    _, places = drawn_cells(matrix, size_px)
    away = np.minimum(places, np.array(size_px) - 1.0 - places).min(axis=1) > 3.0
    errors = errors_pitch(lattice, places[away], matrix)
    assert (errors <= PLACE_TOLERANCE_PITCH).mean() >= share
    found = np.array([c.centre_xy_px for c in lattice.cells])
    apart = np.hypot(*np.moveaxis(found[None] - found[:, None], -1, 0))
    np.fill_diagonal(apart, np.inf)
    assert apart.min() > 0.6 * lattice.pitch_px  # no cell twice


@pytest.mark.parametrize("pitch_px", [22.0, 45.0, 110.0, 190.0])
@pytest.mark.parametrize("angle_deg", [-23.0, 4.0, 30.0])
def test_pitch_and_angle_are_those_drawn(pitch_px, angle_deg):
    size_px = (560, 420)
    matrix = frame(pitch_px, angle_deg, size_px)
    lattice = find_lattice(draw_comb(np.random.default_rng(3), matrix, size_px))
    assert lattice.pitch_px == pytest.approx(pitch_px, rel=PITCH_TOLERANCE)
    turn_deg = fold_row_angle_deg(lattice.row_angle_deg - angle_deg)
    assert abs(turn_deg) <= ANGLE_TOLERANCE_DEG
    assert -30.0 < lattice.row_angle_deg <= 30.0
    assert_found(lattice, matrix, size_px)


@pytest.mark.parametrize("contents", ["dark", "facets", "mixed"])
def test_insides_of_cells_do_not_shift_the_lattice(contents):
    size_px = (480, 360)
    matrix = frame(70.0, 13.0, size_px)
    picture = draw_comb(np.random.default_rng(5), matrix, size_px, contents=contents)
    assert_found(find_lattice(picture), matrix, size_px)


@pytest.mark.parametrize("rim_pitch", [0.07, 0.25])
def test_thin_and_thick_rims(rim_pitch):
    size_px = (480, 360)
    matrix = frame(60.0, -8.0, size_px)
    picture = draw_comb(np.random.default_rng(6), matrix, size_px, rim_pitch=rim_pitch)
    assert_found(find_lattice(picture), matrix, size_px)


@pytest.mark.parametrize("axis_deg", [0.0, 40.0, 110.0])
def test_comb_seen_aslant_in_perspective(axis_deg):
    size_px = (640, 480)
    matrix = frame(40.0, 10.0, size_px, tilt_deg=25.0, axis_deg=axis_deg, distance=2.0)
    lattice = find_lattice(draw_comb(np.random.default_rng(7), matrix, size_px))
    assert_found(lattice, matrix, size_px, share=0.99)
    assert lattice.tilt_deg == pytest.approx(25.0, abs=5.0)
    # The local steps follow the perspective: each points to the next cell along the row.
    by_name = {(c.row, c.col): c for c in lattice.cells}
    for cell in lattice.cells:
        after = by_name.get((cell.row, cell.col + 1))
        if after is not None:
            step = np.array(after.centre_xy_px) - cell.centre_xy_px
            assert np.hypot(*(step - cell.steps_xy_px[0])) < 0.08 * lattice.pitch_px


def test_names_are_those_of_one_lattice_all_over_the_picture():
    size_px = (640, 480)
    matrix = frame(40.0, 10.0, size_px, tilt_deg=15.0)
    axial, places = drawn_cells(matrix, size_px)
    lattice = find_lattice(draw_comb(np.random.default_rng(8), matrix, size_px))
    assert len({(c.row, c.col) for c in lattice.cells}) == len(lattice.cells)
    assert min(c.row for c in lattice.cells) == min(c.col for c in lattice.cells) == 0
    assert len(name_shifts(lattice.cells, axial, places)) == 1
    for cell in lattice.cells:
        step_x_px, step_y_px = cell.steps_xy_px[0]
        turn_deg = math.degrees(math.atan2(step_y_px, step_x_px)) - lattice.row_angle_deg
        assert abs(turn_deg) < 10.0  # rows run along the row angle


def test_few_cells_in_view():
    size_px = (300, 260)
    matrix = frame(125.0, 17.0, size_px)
    lattice = find_lattice(draw_comb(np.random.default_rng(9), matrix, size_px))
    assert 4 <= len(lattice.cells) <= 8
    assert_found(lattice, matrix, size_px)


def test_cropping_moves_the_cells_along():
    size_px = (560, 420)
    picture = draw_comb(np.random.default_rng(10), frame(55.0, 3.0, size_px), size_px)
    whole = find_lattice(picture)
    part = find_lattice(np.ascontiguousarray(picture[70:370, 110:470]))
    found = np.array([c.centre_xy_px for c in whole.cells])
    for cell in part.cells:
        apart = np.hypot(*(found - cell.centre_xy_px - [110.0, 70.0]).T)
        assert apart.min() <= PLACE_TOLERANCE_PITCH * whole.pitch_px


def test_rotating_the_picture_turns_the_cells():
    size_px = (480, 480)
    picture = draw_comb(np.random.default_rng(11), frame(60.0, 11.0, size_px), size_px)
    upright = find_lattice(picture)
    turned = find_lattice(np.ascontiguousarray(np.rot90(picture)))
    found = np.array([c.centre_xy_px for c in upright.cells])
    back = np.array([(479.0 - c.centre_xy_px[1], c.centre_xy_px[0]) for c in turned.cells])
    apart = np.hypot(*np.moveaxis(found[None] - back[:, None], -1, 0)).min(axis=1)
    assert np.median(apart) <= 0.02 * upright.pitch_px
    assert turned.pitch_px == pytest.approx(upright.pitch_px, rel=PITCH_TOLERANCE)


def test_covered_cells_have_low_confidence_and_do_not_end_the_comb():
    size_px = (640, 420)
    matrix = frame(45.0, 0.0, size_px)
    picture = draw_comb(np.random.default_rng(12), matrix, size_px)
    noise = np.random.default_rng(13).normal(120.0, 30.0, (130, 150, 3))
    picture[140:270, 240:390] = np.clip(cv2.GaussianBlur(noise, (0, 0), 3.0), 0, 255)
    lattice = find_lattice(picture)
    middles = [c for c in lattice.cells if 275 < c.centre_xy_px[0] < 355]
    covered = [c.confidence for c in middles if 175 < c.centre_xy_px[1] < 235]
    assert all(value < 0.5 for value in covered)
    _, places = drawn_cells(matrix, size_px)
    for side in (places[:, 0] < 200, places[:, 0] > 430):
        assert (errors_pitch(lattice, places[side], matrix) <= PLACE_TOLERANCE_PITCH).mean() > 0.95


def test_names_go_on_beyond_a_stretch_without_open_cells():
    size_px = (900, 330)
    matrix = frame(36.0, 0.0, size_px)
    picture = draw_comb(np.random.default_rng(17), matrix, size_px)
    noise = np.random.default_rng(18).normal(150.0, 30.0, (330, 290, 3))
    picture[:, 300:590] = np.clip(cv2.GaussianBlur(noise, (0, 0), 5.0), 0, 255)
    lattice = find_lattice(picture)
    axial, places = drawn_cells(matrix, size_px)
    sure = [c for c in lattice.cells if c.confidence >= 0.5]
    assert {c.centre_xy_px[0] > 590 for c in sure} == {False, True}
    assert len(name_shifts(sure, axial, places)) == 1


def test_weak_contrast_noise_and_uneven_light():
    size_px = (560, 420)
    matrix = frame(50.0, -15.0, size_px)
    rng = np.random.default_rng(14)
    picture = draw_comb(rng, matrix, size_px, contrast=30.0, contents="dark").astype(float)
    light = np.linspace(0.4, 1.6, size_px[0])[None, :, None]
    noisy = np.clip(picture * light + rng.normal(0.0, 5.0, picture.shape), 0, 255)
    assert_found(find_lattice(noisy.astype(np.uint8)), matrix, size_px, share=0.97)


def test_a_hint_of_the_pitch_is_followed_and_a_wrong_one_finds_no_comb():
    size_px = (480, 360)
    picture = draw_comb(np.random.default_rng(15), frame(60.0, 5.0, size_px), size_px)
    lattice = find_lattice(picture, pitch_hint_px=66.0)
    assert lattice.pitch_px == pytest.approx(60.0, rel=PITCH_TOLERANCE)
    with pytest.raises(NoCombError):
        find_lattice(picture, pitch_hint_px=150.0)


def bricks(u, v):
    """Bright joints of bricks twice as wide as high, each row shifted by half a brick."""
    shift = 24.0 * (np.floor(v / 24.0) % 2.0)
    level = np.exp(-(((v % 24.0 - 12.0) / 2.0) ** 2))
    return np.maximum(level, np.exp(-((((u + shift) % 48.0 - 24.0) / 2.0) ** 2)))


def no_comb_pictures():
    rng = np.random.default_rng(20)
    y, x = np.mgrid[0:360, 0:480].astype(float)
    turned = 0.94 * x + 0.34 * y, 0.94 * y - 0.34 * x
    noise = rng.normal(128.0, 40.0, (360, 480))
    soft = cv2.GaussianBlur(noise, (0, 0), 6.0)
    lines = [np.exp(-(((u % 48.0 - 24.0) / 4.0) ** 2)) for u in turned]
    return {
        "blank": np.full((360, 480), 120.0),
        "gradient": np.broadcast_to(np.linspace(0.0, 255.0, 480), (360, 480)),
        "noise": noise,
        "soft noise": 128.0 + (soft - soft.mean()) * 40.0 / soft.std(),
        "stripes": 128.0 + 80.0 * np.sin(2.0 * np.pi * turned[0] / 40.0),
        "square grid": 50.0 + 170.0 * np.maximum(*lines),
        "bricks": 50.0 + 170.0 * bricks(*turned),
        "square holes": 200.0 - 150.0 * lines[0] * lines[1],
        "small": np.full((12, 9), 90.0),
    }


@pytest.mark.parametrize("name", sorted(no_comb_pictures()))
def test_what_is_no_comb_is_refused_in_one_sentence(name):
    gray = np.clip(no_comb_pictures()[name], 0, 255).astype(np.uint8)
    with pytest.raises(NoCombError) as caught:
        find_lattice(np.repeat(gray[..., None], 3, axis=2))
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("pixels", "hint_px", "match"),
    [
        (np.zeros((40, 40), np.uint8), None, "pixels"),
        (np.zeros((40, 40, 3), np.float32), None, "pixels"),
        (np.zeros((40, 40, 3), np.uint8), -5.0, "pitch_hint_px"),
    ],
)
def test_wrong_arguments_are_named(pixels, hint_px, match):
    with pytest.raises(ValueError, match=match):
        find_lattice(pixels, pitch_hint_px=hint_px)

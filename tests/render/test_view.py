"""The pinhole: scale by depth, direction of tilt, cells in view."""

import numpy as np
import pytest

from larvasight.render import Camera, Comb, cells_in_view
from larvasight.render.view import make_view, rim_plane


@pytest.mark.parametrize("depth_mm", [0.0, 5.0, 10.0])
@pytest.mark.parametrize("distance_mm", [120.0, 350.0])
def test_project_scales_with_depth_as_a_pinhole(depth_mm, distance_mm):
    camera = Camera(size_px=(1001, 751), pitch_px=190.0, distance_mm=distance_mm)
    view = make_view(camera, 5.3)
    x, y = view.project(np.array([[4.0, -3.0, depth_mm]]))[0]
    scale = 190.0 / 5.3 / (1.0 + depth_mm / distance_mm)
    assert x == pytest.approx(500.0 + 4.0 * scale, abs=1e-6)
    assert y == pytest.approx(375.0 - 3.0 * scale, abs=1e-6)


@pytest.mark.parametrize("direction_deg", [0.0, 90.0, 217.0])
def test_project_deep_points_move_towards_the_leaning_camera(direction_deg):
    camera = Camera(tilt_deg=12.0, tilt_direction_deg=direction_deg)
    view = make_view(camera, 5.3)
    rim, deep = view.project(np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 10.0]]))
    way = np.array([np.cos(np.radians(direction_deg)), np.sin(np.radians(direction_deg))])
    moved_mm = (deep - rim) / view.px_per_mm_at(np.zeros(2))
    # 10 mm of depth, seen along an axis slanted by 12 deg: about 2 mm.
    assert moved_mm @ way == pytest.approx(10.0 * np.sin(np.radians(12.0)), abs=0.15)
    assert abs(moved_mm @ np.array([-way[1], way[0]])) < 0.01


def test_rim_plane_undoes_the_projection():
    view = make_view(Camera(size_px=(64, 48), tilt_deg=20.0, tilt_direction_deg=33.0), 5.3)
    x, y = rim_plane(view)
    px = view.project(np.stack([x, y, np.zeros_like(x)], axis=2).astype(np.float64))
    rows, cols = np.mgrid[0:48, 0:64]
    np.testing.assert_allclose(px[..., 0], cols, rtol=0, atol=1e-3)
    np.testing.assert_allclose(px[..., 1], rows, rtol=0, atol=1e-3)


def test_cells_in_view_cover_every_pixel():
    comb = Comb(row_angle_deg=17.0)
    camera = Camera(size_px=(320, 240), pitch_px=60.0, tilt_deg=15.0, tilt_direction_deg=50.0)
    cells = cells_in_view(comb, camera)
    assert len(set(cells)) == len(cells)
    # The picture's area over a hexagon's, and the ring of cells cut by its edge.
    inside = 320 * 240 / (np.sqrt(3.0) / 2.0 * 60.0**2)
    assert inside < len(cells) < 2.2 * inside

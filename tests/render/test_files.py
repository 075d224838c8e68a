"""Stored pictures: what is written, and the distance beside it."""

import hashlib

import numpy as np
import pytest
from PIL import Image

from larvasight.errors import OutputFolderError
from larvasight.render import save_picture

IMAGE = np.random.default_rng(0).integers(0, 256, (24, 32, 3), dtype=np.uint8)


@pytest.mark.parametrize("name", ["comb.png", "comb.jpg"])
def test_save_picture_keeps_the_distance_and_returns_the_digest(tmp_path, name):
    path = tmp_path / name
    digest = save_picture(path, IMAGE, 182.3)
    assert digest == hashlib.sha256(path.read_bytes()).hexdigest()
    with Image.open(path) as stored:
        assert stored.size == (32, 24)
        distance_m = float(stored.getexif().get_ifd(0x8769)[0x9206])
    assert distance_m == pytest.approx(0.1823)


def test_save_picture_png_keeps_every_pixel(tmp_path):
    save_picture(tmp_path / "comb.png", IMAGE, None)
    with Image.open(tmp_path / "comb.png") as stored:
        np.testing.assert_array_equal(np.asarray(stored), IMAGE)
        assert 0x8769 not in stored.getexif()


def test_save_picture_refuses_other_endings_and_shapes(tmp_path):
    with pytest.raises(ValueError, match="path"):
        save_picture(tmp_path / "comb.gif", IMAGE, None)
    with pytest.raises(ValueError, match="image"):
        save_picture(tmp_path / "comb.png", IMAGE[..., 0], None)
    with pytest.raises(ValueError, match="distance_mm"):
        save_picture(tmp_path / "comb.png", IMAGE, 0.0)
    with pytest.raises(OutputFolderError):
        save_picture(tmp_path / "missing" / "comb.png", IMAGE, None)

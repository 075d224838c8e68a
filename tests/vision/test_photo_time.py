"""When a photo was taken, by the notes of its camera."""

from datetime import datetime, timedelta

import numpy as np
import pytest
from PIL import Image

from larvasight.vision.photo_time import noted_time


def picture(tmp_path, taken=None, offset=None):
    image = Image.fromarray(np.full((40, 40, 3), 90, np.uint8))
    notes = Image.Exif()
    if taken is not None:
        notes.get_ifd(0x8769)[0x9003] = taken
    if offset is not None:
        notes.get_ifd(0x8769)[0x9011] = offset
    path = tmp_path / "comb.jpg"
    image.save(path, exif=notes)
    return path


@pytest.mark.reference(
    "CIPA DC-008 (Exif 2.32): DateTimeOriginal YYYY:MM:DD HH:MM:SS, offset +HH:MM"
)
@pytest.mark.parametrize(("offset", "hours"), [("+02:00", 2.0), ("-05:30", -5.5)])
def test_time_and_offset_are_read_as_the_standard_writes_them(tmp_path, offset, hours):
    found = noted_time(picture(tmp_path, "2027:05:14 10:20:30", offset))
    assert found.replace(tzinfo=None) == datetime.fromisoformat("2027-05-14 10:20:30")
    assert found.utcoffset() == timedelta(hours=hours)


def test_without_an_offset_it_is_the_time_of_the_place(tmp_path):
    found = noted_time(picture(tmp_path, "2027:05:14 10:20:30"))
    assert found == datetime.fromisoformat("2027-05-14 10:20:30")
    assert found.tzinfo is None


@pytest.mark.parametrize("taken", [None, "0000:00:00 00:00:00", "1970:01:01 00:00:00", "yesterday"])
def test_what_is_no_time_is_none(tmp_path, taken):
    assert noted_time(picture(tmp_path, taken)) is None


def test_a_file_that_is_no_picture_has_no_time(tmp_path):
    path = tmp_path / "notes.jpg"
    path.write_text("Frame 7", encoding="utf-8")
    assert noted_time(path) is None
    assert noted_time(tmp_path / "missing.jpg") is None

"""The one place where photos are opened: upright, 8-bit RGB, or refused in one sentence."""

from __future__ import annotations

import hashlib
import logging
import math
import re
import stat
import warnings
from dataclasses import dataclass, field
from io import BytesIO
from typing import TYPE_CHECKING, Final

import numpy as np
from PIL import Image
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.TiffImagePlugin import TiffImageFile
from PIL.WebPImagePlugin import WebPImageFile

from larvasight.errors import PhotoTooLargeError, PhotoTooSmallError, PhotoUnreadableError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from numpy.typing import NDArray
    from PIL.ImageFile import ImageFile

PHOTO_SUFFIXES: Final = frozenset(
    {".heic", ".heif", ".jpeg", ".jpg", ".png", ".tif", ".tiff", ".webp"}
)

# The largest phone pictures in common use have 108 megapixels; decoded they take 330 MB.
MEGAPIXELS_MAX: Final = 120
FILE_MB_MAX: Final = 400
SIDE_MIN_PX: Final = 32

# Where a see-through picture shows nothing, middle grey is neither glare nor a dark cell.
_BEHIND_RGB: Final = (128, 128, 128)

_ORIENTATION: Final = 0x0112
EXIF_IFD: Final = 0x8769
_SUBJECT_DISTANCE: Final = 0x9206  # metres
_DISTANCE_MM_MIN: Final = 50.0
_DISTANCE_MM_MAX: Final = 2000.0
_FOCAL_35MM: Final = 0xA405  # mm, as if on film of 36 x 24 mm
_DIGITAL_ZOOM: Final = 0xA404
_WIDTH_TAKEN, _HEIGHT_TAKEN = 0xA002, 0xA003
_FILM_DIAGONAL_MM: Final = math.hypot(36.0, 24.0)
_FOCAL_35MM_SPAN: Final = (8.0, 400.0)

# What makes a picture stored with this EXIF orientation upright.
_UPRIGHT: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}

_HEIF_BRANDS: Final = {b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1"}
_JPEG_END: Final = 0xD9
# Any marker but the ones that stand inside coded pixels: stuffing, fill bytes, restarts.
_JPEG_MARKER: Final = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")

# A file's defects are told in our own sentence, not in pillow's notes on standard error.
logging.getLogger("PIL").addHandler(logging.NullHandler())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photo:
    """One photo, upright.

    Attributes
    ----------
    pixels : ndarray of shape (height_px, width_px, 3), uint8
        Colours, RGB; read-only.
    name : str
        File name without folder.
    sha256 : str
        Checksum of the file's bytes, 64 hexadecimal digits.
    width_px, height_px : int
        Size of the upright picture.
    distance_mm : float or None
        From camera to comb as the camera noted it; None when it did not, or not sensibly.
    focal_px : float or None
        Focal length in px as the camera noted it; None when it did not, or the picture is not
        the whole one that was taken.
    data : bytes
        The file's bytes, those that the checksum is of; empty for pixels from elsewhere.
    """

    pixels: NDArray[np.uint8]
    name: str
    sha256: str
    width_px: int
    height_px: int
    distance_mm: float | None
    data: bytes = field(default=b"", repr=False)
    focal_px: float | None = None


def load_photo(path: Path) -> Photo:
    """Open one photo, whatever its format, upright and as 8-bit RGB.

    The content decides the format, not the suffix: JPEG, PNG, WebP, TIFF or HEIC, with 1 to
    16 bits, grey, palette, CMYK or transparent (put on middle grey). Of several pictures in
    a file the main or first one is taken. The orientation noted by the camera is applied; in
    HEIC that is the container's rotation, as the standard demands, and never also EXIF's.
    Colour profiles are not applied.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Photo
        With ``pixels`` of at least 32 px and at most 120 megapixels.

    Raises
    ------
    PhotoUnreadableError
        If the file is missing, empty, cut off, damaged, no picture, or may not be read.
    PhotoTooLargeError
        If the file or, by its header and before decoding, the picture is too large.
    PhotoTooSmallError
        If a side has fewer than 32 px.
    """
    data = _read(path)
    warnings.filterwarnings("ignore", module=r"(PIL|pillow_heif)\.")
    image = open_header(data, path.name)
    _check_size(image, path.name)
    pixels = _decode(image, data, path.name)
    return Photo(
        pixels=pixels,
        name=path.name,
        sha256=hashlib.sha256(data).hexdigest(),
        width_px=pixels.shape[1],
        height_px=pixels.shape[0],
        distance_mm=_distance_mm(image),
        data=data,
        focal_px=_focal_px(image),
    )


def photo_paths(inputs: Iterable[Path]) -> list[Path]:
    """List the photos that files and folders stand for.

    A folder stands for the photos directly in it, known by their suffix, in the order of
    their names; hidden files, and links that lead out of the folder, are left out. A file
    stands for itself whether it exists or not, so that opening it can say what is wrong.

    Parameters
    ----------
    inputs : iterable of Path
        Files and folders.

    Returns
    -------
    list of Path
        Each photo once, in the order of the inputs.

    Raises
    ------
    PhotoUnreadableError
        If a folder may not be read.
    """
    found: dict[Path, None] = {}
    for given in inputs:
        found.update(dict.fromkeys(_photos_in(given) if given.is_dir() else [given]))
    return list(found)


def _photos_in(folder: Path) -> list[Path]:
    home = folder.resolve()
    try:
        entries = sorted(folder.iterdir(), key=lambda entry: (entry.name.casefold(), entry.name))
    except OSError as error:
        msg = f"The folder {folder.name} cannot be read: {_reason(error)}."
        raise PhotoUnreadableError(msg) from error
    return [
        entry
        for entry in entries
        if entry.suffix.lower() in PHOTO_SUFFIXES
        and not entry.name.startswith(".")
        and _is_file_inside(entry, home)
    ]


def _is_file_inside(entry: Path, home: Path) -> bool:
    try:
        return entry.is_file() and entry.resolve().is_relative_to(home)
    except (OSError, RuntimeError):  # a link that leads in a circle
        return False


def _reason(error: OSError) -> str:
    return (error.strerror or "the system refused").lower()


def _read(path: Path) -> bytes:
    """Return the file's bytes after looking at what it is and how large."""
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            msg = f"{path.name} is a folder, not a photo."
            raise PhotoUnreadableError(msg)
        if not stat.S_ISREG(found.st_mode):  # a device or pipe could be read for ever
            msg = f"{path.name} is not a file."
            raise PhotoUnreadableError(msg)
        if found.st_size > FILE_MB_MAX * 1_000_000:
            size_mb = found.st_size / 1_000_000
            msg = f"{path.name} has {size_mb:.0f} MB; files up to {FILE_MB_MAX} MB are opened."
            raise PhotoTooLargeError(msg)
        data = path.read_bytes()
    except FileNotFoundError as error:
        msg = f"{path.name} does not exist."
        raise PhotoUnreadableError(msg) from error
    except OSError as error:
        msg = f"{path.name} cannot be read: {_reason(error)}."
        raise PhotoUnreadableError(msg) from error
    if not data:
        msg = f"{path.name} is empty."
        raise PhotoUnreadableError(msg)
    return data


def _opener(data: bytes) -> Callable[[BytesIO], ImageFile] | None:
    """Return what opens this kind of picture, told by its first bytes.

    The classes are called directly: ``Image.open`` would try every format it knows, and
    warn or fail at its own size limits instead of ours.
    """
    if data.startswith(b"\xff\xd8\xff"):
        return JpegImageFile
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return PngImageFile
    if data.startswith(b"RIFF") and data[8:12] == b"WEBP":
        return WebPImageFile
    if data.startswith((b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")):
        return TiffImageFile
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        from pillow_heif import HeifImageFile  # 57 ms that other formats need not wait for

        return HeifImageFile
    return None


def open_header(data: bytes, name: str) -> ImageFile:
    """Read size and kind of the picture without decoding it.

    Raises
    ------
    PhotoUnreadableError
        If it is damaged or no picture.
    """
    opener = _opener(data)
    if opener is None:
        msg = f"{name} is not a JPEG, PNG, WebP, TIFF or HEIC picture."
        raise PhotoUnreadableError(msg)
    if opener is JpegImageFile and not _has_jpeg_end(data):
        raise PhotoUnreadableError(_cut_off(name))
    try:
        return opener(BytesIO(data))
    except Exception as error:  # decoders raise whatever a damaged file leads them to
        raise PhotoUnreadableError(_damaged(name)) from error


def _has_jpeg_end(data: bytes) -> bool:
    """Tell whether the end marker of the main picture is there.

    Decoders accept a JPEG whose end is missing or all zeros (an interrupted copy) and leave
    the rest grey. Previews inside the header and whatever follows the picture do not count.
    """
    position = 2
    while found := _JPEG_MARKER.search(data, position):
        position = found.end()
        if data[position - 1] == _JPEG_END:
            return True
        position += max(int.from_bytes(data[position : position + 2], "big"), 2)
    return False


def _check_size(image: ImageFile, name: str) -> None:
    width_px, height_px = image.size
    if min(width_px, height_px) < SIDE_MIN_PX:
        msg = (
            f"{name} has {width_px} x {height_px} pixels; "
            f"each side must have at least {SIDE_MIN_PX}."
        )
        raise PhotoTooSmallError(msg)
    megapixels = width_px * height_px / 1_000_000
    if megapixels > MEGAPIXELS_MAX:
        msg = (
            f"{name} has {megapixels:.0f} megapixels; "
            f"pictures up to {MEGAPIXELS_MAX} megapixels are opened."
        )
        raise PhotoTooLargeError(msg)


def _distance_mm(image: ImageFile) -> float | None:
    """Return the subject distance noted by the camera, or None if absent or senseless."""
    try:
        distance_mm = 1000.0 * float(image.getexif().get_ifd(EXIF_IFD)[_SUBJECT_DISTANCE])
    except Exception:  # notes of any shape, none, or damaged: the picture may still be good
        return None
    return distance_mm if _DISTANCE_MM_MIN <= distance_mm <= _DISTANCE_MM_MAX else None


def _focal_px(image: ImageFile) -> float | None:
    """Return the noted focal length in px, or None if absent, senseless or of another picture."""
    try:
        notes = image.getexif().get_ifd(EXIF_IFD)
        focal_mm, zoom = float(notes[_FOCAL_35MM]), float(notes.get(_DIGITAL_ZOOM, 0))
        taken = (int(notes[_WIDTH_TAKEN]), int(notes[_HEIGHT_TAKEN]))
    except Exception:  # notes of any shape, none, or damaged: the picture may still be good
        return None
    is_whole = zoom in (0.0, 1.0) and sorted(taken) == sorted(image.size)
    low_mm, high_mm = _FOCAL_35MM_SPAN
    if not is_whole or not low_mm <= focal_mm <= high_mm:
        return None
    return focal_mm * math.hypot(*image.size) / _FILM_DIAGONAL_MM


def _decode(image: ImageFile, data: bytes, name: str) -> NDArray[np.uint8]:
    try:
        # Of see-through TIFFs OpenCV gives the colours mixed with black.
        by_opencv = image.format == "TIFF" and image.mode != "RGBA"
        upright = _decode_tiff(data) if by_opencv else _decode_upright(image)
        pixels = np.asarray(_to_rgb(upright))
    except Exception as error:  # decoders raise whatever a damaged file leads them to
        cut_off = isinstance(error, OSError | EOFError) and "truncated" in str(error)
        raise PhotoUnreadableError(_cut_off(name) if cut_off else _damaged(name)) from error
    return pixels


def _decode_upright(image: ImageFile) -> Image.Image:
    """Decode, and turn as EXIF says; HEIC and TIFF come turned, and their EXIF then says so."""
    image.load()
    try:
        turn = _UPRIGHT.get(image.getexif().get(_ORIENTATION, 1))
    except Exception:  # damaged notes: the picture is shown as stored
        turn = None
    return image if turn is None else image.transpose(turn)


def _decode_tiff(data: bytes) -> Image.Image:
    """Decode a TIFF with OpenCV, which turns it too.

    Both libraries call libtiff, which writes a damaged file's defects to standard error;
    only OpenCV can be told not to.
    """
    import cv2

    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if pixels is None or pixels.dtype not in {np.dtype(np.uint8), np.dtype(np.uint16)}:
        msg = "no picture, or numbers without a known brightest value"
        raise ValueError(msg)
    if pixels.dtype == np.uint16:
        pixels = (pixels // 256).astype(np.uint8)
    if pixels.ndim == 3:
        swap = cv2.COLOR_BGR2RGB if pixels.shape[2] == 3 else cv2.COLOR_BGRA2RGBA
        pixels = cv2.cvtColor(pixels, swap)
    return Image.fromarray(pixels)


def _to_rgb(image: Image.Image) -> Image.Image:
    if image.mode.startswith("I;16"):
        high_byte = np.asarray(image) >> 8
        return Image.fromarray(high_byte.astype(np.uint8)).convert("RGB")
    if image.has_transparency_data:
        behind = Image.new("RGBA", image.size, (*_BEHIND_RGB, 255))
        return Image.alpha_composite(behind, image.convert("RGBA")).convert("RGB")
    return image.convert("RGB")


def _cut_off(name: str) -> str:
    return f"{name} is cut off: its end is missing, so copy it again from the camera."


def _damaged(name: str) -> str:
    return f"{name} is damaged or of a kind that cannot be opened."

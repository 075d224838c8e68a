"""Store pictures of comb, the camera's distance written beside them."""

import hashlib
import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from larvasight.errors import require_positive
from larvasight.sheet import write_whole

_EXIF_IFD = 0x8769
_SUBJECT_DISTANCE = 0x9206
_JPEG_QUALITY = 93
_PNG_COMPRESSION = 3


def save_picture(path: Path, image: NDArray[np.uint8], distance_mm: float | None) -> str:
    """Write a picture and return the digest of its file.

    Parameters
    ----------
    path : Path
        Ends in ``.png``, ``.jpg`` or ``.jpeg``; its folder exists.
    image : ndarray of shape (H, W, 3), uint8
        RGB.
    distance_mm : float or None
        Camera to comb, kept in the file as EXIF SubjectDistance (metres); None leaves it out.

    Returns
    -------
    str
        SHA-256 of the file, hex.

    Raises
    ------
    ValueError
        If the ending is another one, the image has another shape or the distance is not above 0.
    OutputFolderError
        If the file cannot be written.
    """
    from PIL import Image  # heavy: only when a picture is written
    from PIL.TiffImagePlugin import IFDRational

    kind = path.suffix.lower()
    if kind not in (".png", ".jpg", ".jpeg"):
        msg = f"path must end in .png, .jpg or .jpeg, got {path.name}"
        raise ValueError(msg)
    if image.ndim != 3 or image.shape[2] != 3 or image.dtype != np.uint8:
        msg = f"image must have shape (H, W, 3) and type uint8, got {image.shape} {image.dtype}"
        raise ValueError(msg)
    exif = Image.Exif()
    if distance_mm is not None:
        tenths = round(require_positive("distance_mm", distance_mm) * 10.0)
        exif.get_ifd(_EXIF_IFD)[_SUBJECT_DISTANCE] = IFDRational(tenths, 10_000)
    written = exif.tobytes() if distance_mm is not None else b""
    stored = io.BytesIO()
    picture = Image.fromarray(image)
    if kind == ".png":
        picture.save(stored, "PNG", compress_level=_PNG_COMPRESSION, exif=written)
    else:
        picture.save(stored, "JPEG", quality=_JPEG_QUALITY, subsampling=0, exif=written)
    data = stored.getvalue()
    write_whole(path, data)
    return hashlib.sha256(data).hexdigest()

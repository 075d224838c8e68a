"""What lens and sensor do: blur, vignetting, exposure, white balance, noise, tone, JPEG."""

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from larvasight.render.scene import Camera
from larvasight.render.textures import sensor_noise

Plane = NDArray[np.float32]

_TONE_STEPS = 4096
# Linear value that is drawn as white; above the knee light rolls off softly.
_TONE_TOP = 1.6
_BLUR_LEAST_PX = 0.3


def photograph(linear: NDArray[np.float32], depth_mm: Plane, camera: Camera) -> NDArray[np.uint8]:
    """Return the photo of a drawn comb.

    Parameters
    ----------
    linear : ndarray of shape (3, H, W), float32
        Light reaching the lens, linear RGB.
    depth_mm : ndarray of shape (H, W), float32
        Depth below the rims of what each pixel sees.
    camera : Camera
        Lens and sensor.

    Returns
    -------
    ndarray of shape (H, W, 3), uint8
        RGB.
    """
    image = _merged(list(linear))
    image = _defocus(image, depth_mm, camera)
    if camera.motion_px >= 1.0:
        kernel = _motion_kernel(camera.motion_px, camera.motion_deg)
        image = np.asarray(cv2.filter2D(image, -1, kernel), dtype=np.float32)
    gain = np.float32(camera.exposure) * _vignette(camera.size_px, camera.vignetting)
    planes = []
    rng = np.random.default_rng(camera.seed)
    for channel, plane in enumerate(cv2.split(image)):
        exposed = plane * (gain * np.float32(camera.white_balance_rgb[channel]))
        if camera.noise > 0.0:
            exposed += _noise(exposed, camera.noise, rng)
        planes.append(exposed)
    index = _merged(planes)
    np.clip(index, 0.0, _TONE_TOP, out=index)
    index *= np.float32((_TONE_STEPS - 1) / _TONE_TOP)
    table = _tone_table(camera.contrast, camera.haze)
    photo = table[index.astype(np.uint16)]
    if camera.jpeg_quality is not None:
        photo = _jpeg_round_trip(photo, camera.jpeg_quality)
    return photo


def _defocus(image: NDArray[np.float32], depth_mm: Plane, camera: Camera) -> NDArray[np.float32]:
    if camera.blur_px >= _BLUR_LEAST_PX:
        image = _blurred(image, camera.blur_px)
    away_px = np.abs(depth_mm - np.float32(camera.focus_mm)) * np.float32(camera.defocus_px_per_mm)
    most_px = float(away_px.max())
    if most_px < _BLUR_LEAST_PX:
        return image
    # The mask is blurred too, so that a blurred rim spreads over a sharp floor.
    soft = _blurred(image, most_px)
    share = _blurred(away_px, max(0.5 * most_px, 0.5)) * np.float32(1.0 / most_px)
    soft -= image
    soft *= _merged([share, share, share])
    soft += image
    return soft


def _merged(planes: list[Plane]) -> NDArray[np.float32]:
    return np.asarray(cv2.merge(planes), dtype=np.float32)


def _blurred(image: NDArray[np.float32], sigma_px: float) -> NDArray[np.float32]:
    return np.asarray(cv2.GaussianBlur(image, (0, 0), sigma_px), dtype=np.float32)


def _motion_kernel(length_px: float, angle_deg: float) -> Plane:
    half = int(np.ceil(length_px / 2.0))
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float32)
    angle_rad = np.radians(angle_deg)
    along = x * np.cos(angle_rad) + y * np.sin(angle_rad)
    across = y * np.cos(angle_rad) - x * np.sin(angle_rad)
    kernel = np.clip(length_px / 2.0 + 0.5 - np.abs(along), 0.0, 1.0) * np.clip(
        1.0 - np.abs(across), 0.0, 1.0
    )
    return np.asarray(kernel / kernel.sum(), dtype=np.float32)


@lru_cache(maxsize=8)
def _vignette(size_px: tuple[int, int], amount: float) -> Plane:
    width_px, height_px = size_px
    x = (np.arange(width_px, dtype=np.float32) - (width_px - 1) / 2.0) / (width_px / 2.0)
    y = (np.arange(height_px, dtype=np.float32) - (height_px - 1) / 2.0) / (width_px / 2.0)
    return np.asarray(
        1.0 - np.float32(amount) * (x[None, :] ** 2 + y[:, None] ** 2) / 1.6, dtype=np.float32
    )


def _noise(exposed: Plane, amount: float, rng: np.random.Generator) -> Plane:
    pool = sensor_noise()
    start = int(rng.integers(0, pool.size))
    normal = np.take(pool, np.arange(start, start + exposed.size), mode="wrap").reshape(
        exposed.shape
    )
    # Shot noise grows with the root of the light; 1/255 at mid grey is .0085 in linear light.
    spread = np.sqrt(np.maximum(exposed, 0.0) * np.float32(3.6) + np.float32(0.15))
    spread *= np.float32(0.0085 * amount)
    return np.asarray(normal * spread)


@lru_cache(maxsize=16)
def _tone_table(contrast: float, haze: float) -> NDArray[np.uint8]:
    linear = np.linspace(0.0, _TONE_TOP, _TONE_STEPS)
    knee = 0.62
    over = np.maximum(linear - knee, 0.0)
    rolled = np.minimum(linear, knee) + (1.0 - knee) * (1.0 - np.exp(-over / (1.0 - knee)))
    rolled = rolled / rolled[-1]
    srgb = np.where(rolled <= 0.0031308, 12.92 * rolled, 1.055 * rolled ** (1 / 2.4) - 0.055)
    srgb = 0.45 + (srgb - 0.45) * contrast
    srgb = haze + (1.0 - haze) * np.clip(srgb, 0.0, 1.0)
    return np.asarray(np.round(np.clip(srgb, 0.0, 1.0) * 255.0), dtype=np.uint8)


def _jpeg_round_trip(photo: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
    _, stored = cv2.imencode(".jpg", photo[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    loaded = np.asarray(cv2.imdecode(stored, cv2.IMREAD_COLOR), dtype=np.uint8)
    return np.ascontiguousarray(loaded[:, :, ::-1])

"""What a camera does to a finished picture of comb: exposure, colour, blur, noise, JPEG."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from larvasight.render.textures import sensor_noise

if TYPE_CHECKING:
    from numpy.typing import NDArray


# How much lighter a pixel gets by its darkest channel: glints are white, food and wax are not.
# Chosen so that about 1 % of bodies burn out, as in photographs.
_BURNS = np.clip(3.0 * (np.arange(256.0) - 190.0), 0.0, 255.0).astype(np.uint8)
# How much darker R, G and B get near black, where photographs of dark wax are warmer.
_LEVELS = np.arange(256.0)[:, None]
_DARKENS = np.array([3.0, 4.0, 12.0]) * np.exp(-_LEVELS / 40.0)
_DARK_END = np.clip(np.round(_LEVELS - _DARKENS), 0.0, 255.0).astype(np.uint8)[None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """What camera and sensor do to a comb; gains are for R, G, B, ``noise_sd`` in 1/255.

    With ``has_ends``, glints burn out and what is nearly black gets warmer, as in photographs.
    """

    gains_rgb: tuple[float, float, float] = (1.0, 1.0, 1.0)
    vignetting: float = 0.0
    blur_px: float = 0.0
    has_ends: bool = False
    noise_sd: float = 0.0
    jpeg_quality: int | None = None
    seed: int = 0


def sample_lens(rng: np.random.Generator) -> Lens:
    """Draw a camera as people hold one over comb: mostly sharp, a little noise."""
    warmth, tint = float(rng.normal(0.0, 0.03)), float(rng.normal(0.0, 0.012))
    exposure = float(np.exp(rng.normal(0.0, 0.08)))
    red, green, blue = exposure * (1.0 + warmth), exposure * (1.0 + tint), exposure * (1.0 - warmth)
    return Lens(
        gains_rgb=(red, green, blue),
        vignetting=float(rng.uniform(0.0, 0.25)),
        blur_px=float(max(0.0, rng.normal(0.2, 0.25))),
        has_ends=True,
        noise_sd=float(rng.uniform(0.3, 2.0)),
        jpeg_quality=int(rng.integers(86, 96)),
        seed=int(rng.integers(1 << 31)),
    )


def develop(picture: NDArray[np.uint8], lens: Lens) -> NDArray[np.uint8]:
    """Return the photo that a lens makes of a picture, RGB."""
    image = with_ends(picture) if lens.has_ends else picture
    if lens.blur_px >= 0.3:
        image = np.asarray(cv2.GaussianBlur(image, (0, 0), lens.blur_px), dtype=np.uint8)
    table = np.arange(256, dtype=np.float64)[:, None] * np.array(lens.gains_rgb)
    table = np.clip(np.round(table), 0, 255).astype(np.uint8)[None]
    image = np.asarray(cv2.LUT(image, table), dtype=np.uint8)
    if lens.vignetting > 0.0 or lens.noise_sd > 0.0:
        image = _dimmed_and_noisy(image, lens)
    if lens.jpeg_quality is not None:
        quality = [cv2.IMWRITE_JPEG_QUALITY, lens.jpeg_quality]
        stored = cv2.imencode(".jpg", image[..., ::-1], quality)[1]
        image = np.asarray(cv2.imdecode(stored, cv2.IMREAD_COLOR_RGB), dtype=np.uint8)
    return image


def with_ends(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a picture (H, W, 3) with the bright and the dark end of a camera's curve."""
    red, green, blue = cv2.split(picture)
    more = cv2.LUT(cv2.min(cv2.min(red, green), blue), _BURNS)
    lit = cv2.add(picture, cv2.merge([more, more, more]))
    return np.asarray(cv2.LUT(lit, _DARK_END), dtype=np.uint8)


def _dimmed_and_noisy(image: NDArray[np.uint8], lens: Lens) -> NDArray[np.uint8]:
    height_px, width_px = image.shape[:2]
    x = np.linspace(-1.0, 1.0, width_px, dtype=np.float32)
    y = np.linspace(-1.0, 1.0, height_px, dtype=np.float32) * np.float32(height_px / width_px)
    fall = np.float32(1.0) - np.float32(lens.vignetting / 2.0) * (x[None] ** 2 + y[:, None] ** 2)
    dimmed = cv2.multiply(image, cv2.merge([fall, fall, fall]), dtype=cv2.CV_16S)
    pool = sensor_noise()
    starts = np.random.default_rng(lens.seed).integers(0, pool.size, 3)
    grains = [_grain(pool, int(start), fall.shape, lens.noise_sd) for start in starts]
    noisy = cv2.add(dimmed, cv2.merge(grains))
    return np.asarray(np.clip(noisy, 0, 255), dtype=np.uint8)


def _grain(
    pool: NDArray[np.float32], start: int, shape: tuple[int, ...], noise_sd: float
) -> NDArray[np.int16]:
    """Return noise of a shape, cut from a pool of normal numbers."""
    grain = np.resize(np.roll(pool, -start), shape)
    return np.asarray(np.round(grain * np.float32(noise_sd)), dtype=np.int16)

"""Draw comb, light, shadows and camera of a scene by chance."""

import math

import numpy as np

from larvasight.render.scene import BeeShadow, Camera, Comb, Light, LightKind


def sample_comb(rng: np.random.Generator, *, wide: bool, pitch_mm: float, clean: bool) -> Comb:
    """Draw the wax of a comb; older wax mostly has thicker rims and rounder floors."""
    wax_age = float(rng.uniform(0.0, 1.0) if wide else rng.beta(1.3, 1.5))
    loose = 0.3 if wide else 0.12
    cocoon = float(np.clip(1.7 * wax_age - 0.55 + rng.normal(0.0, loose), 0.0, 1.0))
    rim_half_mm = 0.13 + 0.20 * wax_age + abs(float(rng.normal(0.0, 0.05 if not wide else 0.1)))
    tint_spread = 0.16 if wide else 0.04
    r, g, b = np.exp(rng.normal(0.0, tint_spread, 3))
    dirty = 0.0 if clean else 1.0
    return Comb(
        pitch_mm=pitch_mm,
        row_angle_deg=float(rng.uniform(-30.0, 30.0) if wide else rng.normal(0.0, 6.0)),
        floor_turned=bool(rng.random() < 0.5),
        wax_age=wax_age,
        wax_tint_rgb=(float(r), float(g), float(b)),
        cocoon=cocoon,
        rim_half_mm=float(min(rim_half_mm, 0.55)),
        rim_ragged=float(np.clip(rng.beta(1.5, 3.0) * (1.3 if wide else 0.8), 0.0, 1.0)),
        corner_round=float(np.clip(0.2 + 0.7 * wax_age + rng.normal(0.0, 0.15), 0.0, 1.0)),
        stain=float(rng.uniform(0.0, 1.0) if wide else rng.uniform(0.05, 0.2 + 0.4 * wax_age)),
        crumbs=dirty * float(rng.uniform(0.0, 1.0) if wide else rng.uniform(0.0, 0.25)),
        shine=float(rng.uniform(0.0, 1.0) if wide else rng.uniform(0.1, 0.6)),
        pollen_flecks=dirty * float(max(0.0, rng.uniform(-0.6, 1.0)) if wide else 0.0),
        hairs=dirty * float(max(0.0, rng.uniform(-0.8, 1.0)) if wide else 0.0),
        texture_seed=int(rng.integers(1 << 31)),
    )


def sample_light(rng: np.random.Generator, *, wide: bool, camera: Camera) -> Light:
    """Draw the lamp: where it stands, its size and colour, and the light from all around."""
    kind = list(LightKind)[int(rng.integers(len(LightKind)))]
    angle_rad = float(rng.uniform(0.0, 2.0 * np.pi))
    steep = {
        LightKind.RING: (0.0, 0.02),
        LightKind.HEADLAMP: (0.08, 0.16),
        LightKind.WINDOW: (0.15, 0.35),
        LightKind.SUN: (0.10, 0.28) if not wide else (0.14, 0.9),
    }[kind]
    slope = float(rng.uniform(*steep)) * (1.0 if not wide else float(rng.uniform(0.7, 1.5)))
    warm = float(rng.normal(0.0, 0.05 if not wide else 0.16))
    size = {
        LightKind.RING: rng.uniform(0.20, 0.30),
        LightKind.HEADLAMP: rng.uniform(0.04, 0.09),
        LightKind.WINDOW: rng.uniform(0.18, 0.35),
        LightKind.SUN: rng.uniform(0.01, 0.03),
    }[kind]
    height_mm = 5000.0
    if kind is LightKind.RING:
        height_mm = camera.distance_mm * float(rng.uniform(0.75, 1.0))
    elif kind is LightKind.HEADLAMP:
        height_mm = camera.distance_mm * float(rng.uniform(0.9, 1.5))
    # A lamp near the lens leans with the camera.
    lean = math.tan(math.radians(camera.tilt_deg)) if height_mm < 1000.0 else 0.0
    lean_rad = math.radians(camera.tilt_direction_deg)
    # Soft light from the side hardly reaches the floors: people open the lens.
    bright = 1.2 if kind is LightKind.WINDOW else 1.0
    around = bright * float(rng.uniform(0.30, 0.55) if not wide else np.exp(rng.uniform(-1.9, 0.2)))
    return Light(
        kind=kind,
        slope_xy=(
            slope * math.cos(angle_rad) + lean * math.cos(lean_rad),
            slope * math.sin(angle_rad) + lean * math.sin(lean_rad),
        ),
        size=float(size),
        height_mm=height_mm,
        colour_rgb=(1.0 + warm, 0.98, 0.93 - warm),
        strength=bright if not wide else float(rng.uniform(0.4, 1.3)),
        ambient=around,
        ambient_rgb=(0.98 - 0.5 * warm, 0.98, 1.0 + 0.5 * warm),
    )


def sample_shadows(
    rng: np.random.Generator, *, wide: bool, camera: Camera, pitch_mm: float
) -> tuple[BeeShadow, ...]:
    """Draw the shadows of bees outside the picture."""
    count = int(rng.poisson(1.2)) if wide else int(rng.random() < 0.15)
    half = 0.5 * np.array(camera.size_px) / camera.pitch_px * pitch_mm
    bees = []
    for _ in range(count):
        x, y = rng.uniform(-1.0, 1.0, 2) * half
        bees.append(
            BeeShadow(
                centre_xy_mm=(float(x), float(y)),
                angle_deg=float(rng.uniform(0.0, 180.0)),
                softness_mm=float(rng.uniform(0.3, 4.0)),
                depth=float(rng.uniform(0.2, 0.6) if not wide else rng.uniform(0.2, 0.95)),
            )
        )
    return tuple(bees)


def sample_camera(
    rng: np.random.Generator,
    *,
    wide: bool,
    size_px: tuple[int, int],
    pitch_px: float,
    pitch_mm: float,
    tilt_deg: float | None,
    distance_mm: float | None,
    clean: bool,
) -> Camera:
    """Draw the camera; blur grows with the picture's scale."""
    if tilt_deg is None:
        tilt_deg = min(
            abs(float(rng.normal(0.0, 3.0 if not wide else 8.0))), 8.0 if not wide else 28.0
        )
    if distance_mm is None:
        distance_mm = float(rng.uniform(140.0, 320.0) if not wide else rng.uniform(120.0, 350.0))
    scale = pitch_px / 190.0
    focus_mm = float(
        rng.choice([0.0, 5.0, 10.0], p=[0.1, 0.2, 0.7] if not wide else [0.35, 0.3, 0.35])
    )
    defocus = scale * float(rng.uniform(0.05, 0.16) if not wide else rng.uniform(0.0, 0.4))
    w = np.exp(rng.normal(0.0, 0.02 if not wide else 0.10, 3))
    compress = rng.random() < (0.0 if not wide else 0.7)
    x, y = rng.uniform(-0.5, 0.5, 2) * pitch_mm
    moved = wide and rng.random() < 0.2
    camera = Camera(
        size_px=size_px,
        pitch_px=pitch_px,
        distance_mm=distance_mm,
        tilt_deg=tilt_deg,
        tilt_direction_deg=float(rng.uniform(0.0, 360.0)),
        centre_xy_mm=(float(x), float(y)),
        focus_mm=focus_mm,
        defocus_px_per_mm=defocus,
        blur_px=float(
            rng.uniform(0.45, 0.7) if not wide else 0.4 + 2.0 * scale * rng.beta(1.0, 3.0)
        ),
        motion_px=float(rng.uniform(1.0, 1.0 + 6.0 * scale)) if moved else 0.0,
        motion_deg=float(rng.uniform(0.0, 180.0)),
        noise=float(rng.uniform(0.6, 2.0) if not wide else np.exp(rng.uniform(-0.5, 2.2))),
        exposure=float(np.exp(rng.normal(0.0 if not wide else 0.1, 0.08 if not wide else 0.35))),
        contrast=1.0 if not wide else float(rng.uniform(0.65, 1.35)),
        haze=0.0 if not wide else float(max(0.0, rng.uniform(-0.15, 0.15))),
        white_balance_rgb=(float(w[0]), float(w[1]), float(w[2])),
        vignetting=float(rng.uniform(0.05, 0.3) if not wide else rng.uniform(0.0, 0.6)),
        jpeg_quality=int(rng.integers(35, 96)) if compress else None,
        seed=int(rng.integers(1 << 31)),
    )
    if not clean:
        return camera
    return Camera(
        size_px=size_px,
        pitch_px=pitch_px,
        distance_mm=distance_mm,
        tilt_deg=tilt_deg,
        tilt_direction_deg=camera.tilt_direction_deg,
        centre_xy_mm=camera.centre_xy_mm,
        focus_mm=10.0,
        defocus_px_per_mm=0.0,
        blur_px=0.5,
        noise=0.0,
        vignetting=0.0,
        seed=camera.seed,
    )

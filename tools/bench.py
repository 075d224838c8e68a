"""Times of drawing, measuring, starting and of the window, each beside a baseline of the same run.

python tools/bench.py [--repeats 7]
"""

from __future__ import annotations

import argparse
import importlib.metadata
import os
import platform
import statistics
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import cv2
import numpy as np

from bench_class import bench_class
from bench_times import median_s
from bench_window import bench_window
from larvasight.render import CombScene, paint, random_scene
from larvasight.render.composer import compose_patch
from larvasight.render.tiles import TileLibrary
from larvasight.sheet import ScaleSource
from larvasight.stats import EdgePosterior
from larvasight.vision.network import NetworkParser
from larvasight.vision.photo import Photo
from larvasight.vision.photo_cells import find_comb, measure_photo
from larvasight.vision.rectify import Pyramid
from larvasight.vision.scale import ScaleGuess

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from larvasight.vision.parsed import ParsedCell

_PACKAGES = ("numpy", "opencv-python-headless", "scikit-image", "scipy", "pillow")
_BARE = "import cv2, numpy"
_STARTS = {"larvasight --help": ["-m", "larvasight", "--help"], _BARE: ["-c", _BARE]}


def main() -> None:
    """Print the machine, then every time with its baseline."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=7)
    repeats = parser.parse_args().repeats
    print_environment()
    bench_start(repeats)
    for line in bench_window(repeats):
        say(line)
    say(bench_class(repeats))
    bench_drawing(repeats)
    bench_composing(repeats)
    bench_choosing(repeats)
    bench_measuring("comb of 24 cells, 1000 x 750", (1000, 750), 24, repeats)
    bench_measuring("comb of 300 cells, 12 megapixels", (4032, 3024), 300, max(3, repeats // 2))


def print_environment() -> None:
    """Print machine and versions."""
    versions = ", ".join(f"{name} {importlib.metadata.version(name)}" for name in _PACKAGES)
    say(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    say(versions)


def bench_start(repeats: int) -> None:
    """Time whole processes, ours beside a bare one, taken in turns."""
    times: dict[str, list[float]] = {name: [] for name in _STARTS}
    for _ in range(repeats):
        for name, arguments in _STARTS.items():
            start = time.perf_counter()
            subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
            times[name].append(time.perf_counter() - start)
    ours, bare = (statistics.median(values) for values in times.values())
    ratio = ours / bare
    say(f"process start {ours * 1e3:.0f} ms; bare {_BARE!r} {bare * 1e3:.0f} ms: {ratio:.2f} x")


def bench_drawing(repeats: int) -> None:
    """Time painting 24 cells beside encoding the same picture as JPEG."""
    scene = scene_of((1000, 750), 24)
    pixels = paint(scene)
    ours = median_s(lambda: paint(scene), repeats)
    base = median_s(lambda: cv2.imencode(".jpg", pixels), repeats)
    say(f"drawing 24 cells at 1000 x 750: {ours * 1e3:.0f} ms; JPEG encode {base * 1e3:.1f} ms")


def bench_composing(repeats: int) -> None:
    """Time composing 24 cells from tiles beside encoding the same picture as JPEG."""
    library = TileLibrary.load()

    def compose() -> NDArray[np.uint8]:
        rng = np.random.default_rng(11)
        return compose_patch(rng, library, size_px=(1000, 750), n_cells=24).pixels

    pixels = compose()
    ours = median_s(compose, repeats)
    base = median_s(lambda: cv2.imencode(".jpg", pixels), repeats)
    say(f"composing 24 cells at 1000 x 750: {ours * 1e3:.0f} ms; JPEG encode {base * 1e3:.1f} ms")


def bench_choosing(repeats: int) -> None:
    """Time choosing the next age and taking in its answer beside one product of as large a table.

    A learner may wait 2 ms for the choice at most.
    """
    posterior, n = EdgePosterior(), 20
    table = np.ones((43, 24_894), dtype=np.float32)
    weights = np.full(table.shape[1], 1e-4, dtype=np.float32)

    def several(call: Callable[[], object]) -> float:
        return median_s(lambda: [call() for _ in range(n)], repeats) / n * 1e3

    variance = several(posterior.next_age_h)
    entropy = several(lambda: posterior.next_age_h("entropy"))
    taken = several(lambda: posterior.update(20.0, True))
    base = several(lambda: table @ weights)
    say(
        f"choosing the next age: {variance:.2f} ms by variance, {entropy:.2f} ms by entropy, "
        f"taking in an answer {taken:.2f} ms; table times vector {base:.2f} ms"
    )


def bench_measuring(name: str, size_px: tuple[int, int], n_cells: int, repeats: int) -> None:
    """Time measuring one comb, its stages apart, beside decoding its JPEG."""
    scene = scene_of(size_px, n_cells)
    jpeg = camera_jpeg(paint(scene))
    pixels = np.asarray(cv2.imdecode(jpeg, cv2.IMREAD_COLOR_RGB), dtype=np.uint8)
    reader = TimedParser()
    guess = ScaleGuess(pitch_mm=scene.comb.pitch_mm, source=ScaleSource.GIVEN)
    sheet = measure_photo(photo_of(pixels), reader, guess)
    base = median_s(lambda: cv2.imdecode(jpeg, cv2.IMREAD_COLOR), repeats)
    lattice = median_s(lambda: find_comb(Pyramid(pixels)), repeats)
    reader.times_s.clear()
    ours = median_s(lambda: measure_photo(photo_of(pixels), reader, guess), repeats)
    network = sum(reader.times_s) / (repeats + 1)
    n_found = len(sheet.cells)
    n_measured = sum(cell.length_mm is not None for cell in sheet.cells)
    say(
        f"measuring a {name}: {ours * 1e3:.0f} ms (finding cells {lattice * 1e3:.0f}, "
        f"network {network * 1e3:.0f}, the rest {(ours - lattice - network) * 1e3:.0f}), "
        f"{ours / n_found * 1e3:.1f} ms a cell of {n_found}, {n_measured} larvae; "
        f"JPEG decode {base * 1e3:.0f} ms: {ours / base:.1f} x"
    )


class TimedParser:
    """The network, and how long each of its calls took."""

    def __init__(self) -> None:
        self._network = NetworkParser()
        self.times_s: list[float] = []

    def parse(self, crops: NDArray[np.uint8]) -> list[ParsedCell]:
        """Read crops."""
        start = time.perf_counter()
        answers = self._network.parse(crops)
        self.times_s.append(time.perf_counter() - start)
        return answers


def camera_jpeg(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the JPEG that a camera would store: with the sensor's noise, quality 90."""
    noise = np.random.default_rng(12).normal(0.0, 2.5, pixels.shape).astype(np.float32)
    noisy = np.clip(pixels + noise, 0, 255).astype(np.uint8)
    stored = cv2.imencode(".jpg", noisy[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 90])[1]
    return np.asarray(stored, dtype=np.uint8)


def scene_of(size_px: tuple[int, int], n_cells: int) -> CombScene:
    """Return the scene that is timed."""
    return random_scene(np.random.default_rng(11), size_px=size_px, n_cells=n_cells, tilt_deg=3.0)


def photo_of(pixels: NDArray[np.uint8]) -> Photo:
    """Return a picture in memory as a photo."""
    height_px, width_px = pixels.shape[:2]
    return Photo(
        pixels=pixels, name="", sha256="", width_px=width_px, height_px=height_px, distance_mm=180.0
    )


def say(text: str) -> None:
    """Print one line at once."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()

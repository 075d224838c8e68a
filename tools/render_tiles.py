"""Path trace the library of comb tiles: one cell a picture, with what is true about it.

python tools/render_tiles.py --out DIR [--settings NAME ...] [--frames A:B] [--rocking]
    [--wild A:B] [--device cpu|cuda|optix] [--samples N] [--processes N] [--preview]

Needs bpy (extra "tiles"). Frames already in DIR are skipped, so a run that was broken off
goes on where it ended. The same seed, setting and frame number give the same comb.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from tiles_settings import ROCK_LAMPS, ROCK_SETTINGS, ROCK_VIEWS, SETTINGS, Setting, view_slope
from tiles_wild import PREFIX, wild_setting

SEED = 20
PITCH_PX = 192.0
_ROCKING = "-rocking-"


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One frame to render, with the cells across and down; seen once or, rocking, from a view."""

    setting: str
    number: int
    out: Path
    view: str
    seed: int
    n_cols: int
    n_rows: int
    pitch_px: float
    device: str
    samples: int
    threads: int
    keep_frame: bool

    @property
    def name(self) -> str:
        """Name of the frame."""
        return f"{self.setting}-{self.number:02d}" + (f"{_ROCKING}{self.view}" if self.view else "")

    @property
    def records_path(self) -> Path:
        """File that is there once the frame is finished."""
        return self.out / "frames" / f"{self.name}.jsonl"


def main() -> int:
    """Render what is missing and gather all records into one file."""
    args = _parser().parse_args()
    tasks = [task for task in _tasks(args) if not task.records_path.exists()]
    done = 0
    started = time.monotonic()
    _say_progress(0, len(tasks), 0.0)
    if args.processes == 1:
        for task in tasks:
            render(task)
            done += 1
            _say_progress(done, len(tasks), time.monotonic() - started)
    elif tasks:
        context = multiprocessing.get_context("spawn")
        with context.Pool(min(args.processes, len(tasks))) as pool:
            for _ in pool.imap_unordered(render, tasks):
                done += 1
                _say_progress(done, len(tasks), time.monotonic() - started)
    gather(args.out)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--settings", nargs="+", choices=sorted(SETTINGS), metavar="NAME")
    parser.add_argument("--frames", default="0:4", help="A:B, from A up to but without B")
    parser.add_argument("--rocking", action="store_true", help="the views to rock and to relight")
    parser.add_argument("--wild", metavar="A:B", help="settings drawn by chance, for training")
    parser.add_argument("--device", choices=("cpu", "cuda", "optix"), default="cpu")
    parser.add_argument("--samples", type=int, default=128)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--threads", type=int, default=0, help="for each process; 0 for all")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--pitch-px", type=float, default=PITCH_PX)
    parser.add_argument("--cells", default="9x7", help="columns x rows of one frame")
    parser.add_argument("--keep-frames", action="store_true", help="keep whole frames as PNG too")
    parser.add_argument("--preview", action="store_true", help="3x2 cells, few samples")
    return parser


def _tasks(args: argparse.Namespace) -> list[Task]:
    first, last = (int(part) for part in args.frames.split(":"))
    n_cols, n_rows = (int(part) for part in args.cells.split("x"))
    samples, pitch_px = args.samples, args.pitch_px
    if args.rocking:
        n_cols, n_rows, last = 6, 6, first + 1
    if args.preview:
        n_cols, n_rows, samples, last = 3, 2, 12, first + 1
        pitch_px = 120.0
    names = args.settings or list(ROCK_SETTINGS if args.rocking else SETTINGS)
    if args.wild:
        low, high = (int(part) for part in args.wild.split(":"))
        names, first, last = [f"{PREFIX}{k:03d}" for k in range(low, high)], 0, 1
    views = [f"{v}-{lamp}" for lamp in ROCK_LAMPS for v in ROCK_VIEWS] if args.rocking else [""]
    return [
        Task(
            setting=name,
            number=number,
            out=args.out,
            view=view,
            seed=args.seed,
            n_cols=n_cols,
            n_rows=n_rows,
            pitch_px=pitch_px,
            device=args.device,
            samples=samples,
            threads=args.threads,
            keep_frame=args.keep_frames or args.preview,
        )
        for number in range(first, last)
        for name in names
        for view in views
    ]


def render(task: Task) -> str:
    """Render one frame, cut it and write its records; return its name."""
    import bpy  # noqa: F401, heavy: only where frames are rendered
    import cv2

    import tiles_cut
    import tiles_scene
    from tiles_frames import make_frame
    from tiles_tone import tone

    quality = tiles_scene.Quality(
        device=task.device, samples=task.samples, threads=task.threads, pitch_px=task.pitch_px
    )
    tiles_scene.prepare(quality)
    setting = setting_of(task.setting, task.seed)
    frame = make_frame(
        setting,
        task.number,
        seed=task.seed,
        n_cols=task.n_cols,
        n_rows=task.n_rows,
        rocking=bool(task.view),
    )
    tiles_scene.clear()
    tiles_scene.build(frame)
    lamps, slope_xy = setting.lamps, setting.slope_xy
    if task.view:
        view, lamp = task.view.rsplit("-", 1)
        lamps, slope_xy = ROCK_LAMPS[lamp], view_slope(*ROCK_VIEWS[view])
    folder = task.out / ("rocking" if task.view else setting.name)
    tiles_scene.light(setting, lamps)
    shot = tiles_scene.shoot(frame, slope_xy, quality)
    if task.keep_frame:
        whole = task.out / "whole" / f"{task.name}.png"
        whole.parent.mkdir(parents=True, exist_ok=True)
        cv2.imwrite(str(whole), tone(shot.light, setting)[..., ::-1])
    records = tiles_cut.cut_frame(frame, shot, folder, task.pitch_px, view=task.view)
    tiles_cut.write_records(records, task.records_path)
    tiles_scene.clear()
    return task.name


def setting_of(name: str, seed: int) -> Setting:
    """Return the setting of a name, one of the library's or one drawn by chance."""
    return wild_setting(name, seed) if name.startswith(PREFIX) else SETTINGS[name]


def gather(out: Path) -> None:
    """Write ``tiles.jsonl`` and ``rocking.jsonl``: the records of all finished frames."""
    for name, rocking in (("tiles", False), ("rocking", True)):
        lines: list[str] = []
        for path in sorted((out / "frames").glob("*.jsonl")):
            if (_ROCKING in path.stem) == rocking:
                lines += path.read_text(encoding="utf-8").splitlines()
        if lines:
            lines.sort(key=lambda line: str(json.loads(line)["id"]))
            partial = out / f"{name}.part"
            partial.write_text("\n".join(lines) + "\n", encoding="utf-8")
            partial.replace(out / f"{name}.jsonl")


def _say_progress(done: int, wanted: int, seconds: float) -> None:
    width = 30
    full = width * done // max(wanted, 1)
    left = f", about {seconds / done * (wanted - done):.0f} s left" if done else ""
    bar = "#" * full + "-" * (width - full)
    end = "\n" if done == wanted else ""
    sys.stderr.write(f"\r[{bar}] {done} of {wanted} frames, {seconds:.0f} s{left}   {end}")
    sys.stderr.flush()


if __name__ == "__main__":
    raise SystemExit(main())

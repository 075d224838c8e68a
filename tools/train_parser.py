"""Draw cells, train the parser on them and write it as ONNX (needs the ``train`` extra).

python tools/train_parser.py --out larvasight/vision/cell_parser.onnx

Beside the ONNX file lies a checkpoint (.pt) that ``--start`` goes on from.
"""

import argparse
import copy
import multiprocessing
import os
import threading
import time
from multiprocessing.pool import Pool
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from larvasight.render.tiles import TILES_FILE
from parser_augment import Augmenter
from parser_data import CellSamples, draw_samples, joined
from parser_net import N_CONTENT, CellNet, PackedNet
from parser_overlay import EMPTY, LARVA, UNTOLD
from parser_tiles import compose_samples

_JELLY_WEIGHT = 0.3
_MAP_WEIGHTS = (1.0, 1.0, 1.0, 0.7)
_SCENES_PER_JOB = 12
STORES = 4
_SHIPPED_TILES = Path(__file__).resolve().parents[1] / "assets" / "synthetic"
# The exported weights are a running mean over about this many last steps.
_MEAN_STEPS = 1000.0
# A larva of about 30 h covers this much of a crop.
_YOUNG_AREA_PX2 = 800.0


def main() -> None:
    """Draw, train, report on drawn cells kept apart, and export."""
    args = _arguments()
    torch.manual_seed(args.seed)
    torch.backends.cudnn.benchmark = True
    torch.set_float32_matmul_precision("high")
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    start = time.monotonic()
    net = CellNet().to(device)
    if args.start:
        net.load_state_dict(torch.load(args.start, map_location=device, weights_only=True))
    with multiprocessing.get_context("spawn").Pool(args.jobs, initializer=_one_thread) as pool:
        waves = Waves(args, pool, _helper_of(device))
        held = draw_many(args, pool, args.seed + 7_000_000, 60, 0)
        tiles = draw_many(args, pool, args.seed + 8_000_000, 0, 120, for_tests=True)
        waves.start()
        waves.warm_up(args.batch)
        waves.wait()
        print(f"cells drawn in {time.monotonic() - start:.0f} s", flush=True)
        mean = fit(net, waves, args, end_s=start + args.minutes * 60.0)
    print("painted:")
    report(mean, held, device)
    print("test tiles:")
    report(mean, tiles, device)
    torch.save(mean.state_dict(), args.out.with_suffix(".pt"))
    export(mean, args.out)
    print(f"done in {time.monotonic() - start:.0f} s: {args.out}")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="ONNX file to write")
    parser.add_argument("--scenes", type=int, default=2400, help="drawn combs, 20 cells each")
    parser.add_argument("--combs", type=int, default=2400, help="composed combs, 15 cells each")
    parser.add_argument("--waves", type=int, default=1, help="sets drawn, all but one in training")
    parser.add_argument("--kept", type=int, default=6, help="sets in use at a time, the last drawn")
    parser.add_argument(
        "--tiles",
        type=Path,
        nargs="+",
        default=[_SHIPPED_TILES],
        help="folders of tiles; several for those of render_tiles.py --wild, too",
    )
    parser.add_argument("--start", type=Path, help="checkpoint to train on from")
    parser.add_argument("--rate", type=float, default=2e-3, help="greatest learning rate")
    parser.add_argument("--steps", type=int, default=30000)
    parser.add_argument("--batch", type=int, default=256)
    parser.add_argument("--channels-last", action="store_true", help="faster on some cards")
    parser.add_argument("--compile", action="store_true", help="faster where Triton is installed")
    parser.add_argument("--minutes", type=float, default=6.0, help="training ends so long from now")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seed", type=int, default=20_000)
    return parser.parse_args()


def draw_many(
    args: argparse.Namespace,
    pool: Pool,
    seed: int,
    n_scenes: int,
    n_combs: int,
    *,
    for_tests: bool = False,
) -> CellSamples:
    """Draw scenes and compose combs in several processes; the same seed gives the same cells.

    Folders whose tiles are still being rendered are left out.
    """
    there = [folder for folder in args.tiles if (folder / TILES_FILE).exists()]
    folders = tuple(there[:1] if for_tests else there)
    waiting = [
        pool.apply_async(draw_samples, (seed + k, _SCENES_PER_JOB))
        for k in range(n_scenes // _SCENES_PER_JOB)
    ]
    waiting += [
        pool.apply_async(
            compose_samples, (seed + k, _SCENES_PER_JOB, folders), {"for_tests": for_tests}
        )
        for k in range(n_combs // _SCENES_PER_JOB)
    ]
    return joined([part.get() for part in waiting])


def _one_thread() -> None:
    import cv2

    cv2.setNumThreads(1)


def _to_device(samples: CellSamples, device: torch.device) -> tuple[Tensor, ...]:
    crops = torch.from_numpy(samples.crops.transpose(0, 3, 1, 2).copy()).to(device)
    return (
        crops,
        torch.from_numpy(samples.maps).to(device),
        torch.from_numpy(samples.content.astype(np.int64)).to(device),
        torch.from_numpy(samples.jelly.astype(np.int64)).to(device),
        torch.from_numpy(samples.seen_known).to(device),
    )


class Waves:
    """Sets of cells, all but the first drawn while training goes on."""

    def __init__(self, args: argparse.Namespace, pool: Pool, device: torch.device) -> None:
        self._args, self._pool, self._device = args, pool, device
        self._sets: list[tuple[Tensor, ...]] = []
        self._is_over = False
        self._has_first = threading.Event()
        self._failure: Exception | None = None
        self._change = Augmenter(is_compiled=args.compile)

    def start(self) -> None:
        """Begin to draw, one set after the other, in the background."""
        threading.Thread(target=self._draw_all, daemon=True).start()

    def warm_up(self, size: int) -> None:
        """Change cells of nothing once, so that what must be compiled is."""
        crops, maps = (torch.zeros(size, n, 128, 128, device=self._device) for n in (3, 4))
        classes = torch.full((size,), LARVA, device=self._device)
        with torch.no_grad():
            self._change(crops, maps, classes, torch.zeros_like(classes))

    def wait(self) -> None:
        """Wait for the first set; raise what went wrong while it was drawn."""
        self._has_first.wait()
        if self._failure is not None:
            raise self._failure

    def _draw_all(self) -> None:
        try:
            for wave in range(self._args.waves):
                if self._is_over:
                    break
                self._draw(wave)
                self._has_first.set()
                print(f"wave {wave} drawn", flush=True)
        except Exception as failure:  # told by the thread that waits
            self._failure = failure
            self._has_first.set()
            raise

    def end(self) -> None:
        """Draw no further set."""
        self._is_over = True

    def _draw(self, wave: int) -> None:
        args = self._args
        cells = draw_many(args, self._pool, args.seed + 100_000 * wave, args.scenes, args.combs)
        drawn = _to_device(cells, self._device)
        # Chance picks from running sums: no waiting for the card.
        drawn = (*drawn, torch.cumsum(_pick_chances(drawn[1], drawn[2]), 0))
        self._sets = [*self._sets, drawn][-args.kept :]

    def batch(self, size: int, dtype: torch.dtype) -> tuple[Tensor, ...]:
        """Return changed cells, their maps, contents, food and what is known of the seen part."""
        with torch.no_grad():
            sets = self._sets
            crops, maps, content, jelly, known, sums = sets[int(torch.randint(len(sets), ()))]
            drawn = torch.rand(size, device=sums.device) * sums[-1]
            pick = torch.searchsorted(sums, drawn).clamp(max=len(sums) - 1)
            x, y, classes, food = self._change(
                crops[pick].float() / 255.0, maps[pick].float() / 255.0, content[pick], jelly[pick]
            )
            return x.to(dtype), y.to(dtype), classes, food, known[pick]


def _helper_of(device: torch.device) -> torch.device:
    """Return the card that changes cells while the other one trains, where there are two."""
    return torch.device("cuda", 1) if torch.cuda.device_count() > 1 else device


def fit(net: CellNet, waves: Waves, args: argparse.Namespace, *, end_s: float) -> CellNet:
    """Train with AdamW and one cosine cycle; return the running mean of the network.

    Stops early at ``end_s`` on the monotonic clock.
    """
    device = next(net.parameters()).device
    dtype = torch.bfloat16 if device.type == "cuda" else torch.float32
    optimiser = torch.optim.AdamW(
        net.parameters(), lr=args.rate, weight_decay=0.02, fused=device.type == "cuda"
    )
    mean: CellNet = copy.deepcopy(net).eval()
    layout = torch.channels_last if args.channels_last else torch.contiguous_format
    net_train = net.to(memory_format=layout).train()
    loss_of = total_loss
    if args.compile:
        net_train, loss_of = torch.compile(net_train), torch.compile(total_loss)
    start_s = time.monotonic()
    step, following = 0, waves.batch(args.batch, dtype)
    while step < args.steps:
        now = time.monotonic()
        share = max(step / args.steps, (now - start_s) / max(end_s - start_s, 1e-6))
        if share >= 1.0:
            break
        rate = args.rate * min(1.0, (step + 1) / 200.0) * 0.5 * (1.0 + np.cos(np.pi * share))
        for group in optimiser.param_groups:
            group["lr"] = rate
        x, y, classes, jelly, known = (part.to(device) for part in following)
        following = waves.batch(args.batch, dtype)
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=device.type == "cuda"):
            map_logits, class_logits = net_train(x.to(memory_format=layout))
        loss = loss_of(map_logits.float(), class_logits.float(), y.float(), classes, jelly, known)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        step += 1
        _follow(mean, net, step)
        if step % 2000 == 0:
            torch.save(mean.state_dict(), args.out.with_suffix(".pt"))
        if step % 500 == 0:
            print(f"step {step} loss {loss.item():.4f} {now - start_s:.0f} s", flush=True)
    waves.end()
    return mean


def _follow(mean: nn.Module, net: nn.Module, step: int) -> None:
    """Move a running mean of weights and norms towards the network."""
    share = max(1.0 / _MEAN_STEPS, 1.0 / (step + 1.0))
    # Not as a decorator: torch is not there when types are checked.
    with torch.no_grad():
        pairs = zip(mean.state_dict().values(), net.state_dict().values(), strict=True)
        kept, now = zip(*((k, n) for k, n in pairs if k.dtype.is_floating_point), strict=True)
        torch._foreach_lerp_(list(kept), list(now), share)


def _pick_chances(maps: Tensor, content: Tensor) -> Tensor:
    """Return how often each cell is shown: small bodies and the rarer contents more often."""
    area = torch.stack([m.float().sum() / 255.0 for m in maps[:, 0]])
    is_young = (content == LARVA) & (area < _YOUNG_AREA_PX2)
    is_rare = (content == EMPTY) | (content == STORES)
    return 1.0 + is_young.float() + is_rare.float()


def total_loss(
    map_logits: Tensor,
    class_logits: Tensor,
    maps: Tensor,
    content: Tensor,
    jelly: Tensor,
    seen_known: Tensor,
) -> Tensor:
    """Cross entropy of maps and classes, plus overlap of each map that is known."""
    loss = F.cross_entropy(class_logits[:, :N_CONTENT], content, label_smoothing=0.02)
    # Food is told of empty cells, eggs and larvae alone: the first three classes.
    known = ((content < 3) & (jelly != UNTOLD)).float()
    food = F.cross_entropy(
        class_logits[:, N_CONTENT:], jelly, reduction="none", ignore_index=UNTOLD
    )
    loss = loss + _JELLY_WEIGHT * (food * known).sum() / known.sum().clamp(min=1.0)
    chance = torch.sigmoid(map_logits)
    cross = F.binary_cross_entropy_with_logits(map_logits, maps, reduction="none").mean((2, 3))
    both = (chance * maps).sum((2, 3))
    overlap = 1.0 - (2.0 * both + 8.0) / (chance.sum((2, 3)) + maps.sum((2, 3)) + 8.0)
    weights = torch.tensor(_MAP_WEIGHTS, device=maps.device).repeat(len(maps), 1)
    weights[:, 1] *= seen_known
    return loss + ((8.0 * cross + 0.5 * overlap) * weights).sum(1).mean()


def report(net: nn.Module, samples: CellSamples, device: torch.device) -> None:
    """Print how often held-back cells are read right and how well maps overlap."""
    crops, maps, content, jelly, _ = _to_device(samples, device)
    net.eval()
    right, same, both, either = [], [], torch.zeros(4), torch.zeros(4)
    with torch.no_grad():
        for first in range(0, len(crops), 256):
            part = slice(first, first + 256)
            logits, classes = net(crops[part].float() / 255.0)
            found, true = logits > 0.0, maps[part] > 127
            both += (found & true).sum((0, 2, 3)).float().cpu()
            either += (found | true).sum((0, 2, 3)).float().cpu()
            right.append(classes[:, :N_CONTENT].argmax(1) == content[part])
            same.append(classes[:, N_CONTENT:].argmax(1) == jelly[part])
    hit = torch.cat(right)
    print(
        "content right",
        [f"{hit[content == k].float().mean().item():.3f}" for k in range(N_CONTENT)],
    )
    print("jelly right", f"{torch.cat(same).float().mean().item():.3f}")
    print("map overlap", [f"{v:.3f}" for v in (both / either.clamp(min=1.0)).tolist()])


def export(net: CellNet, path: Path) -> None:
    """Write the network as ONNX with a free number of cells, its maps packed."""
    packed = PackedNet(net).cpu().eval()
    free = {name: {0: "n"} for name in ("crops", "maps", "classes")}
    torch.onnx.export(
        packed,
        (torch.zeros(2, 3, 128, 128),),
        str(path),
        input_names=["crops"],
        output_names=["maps", "classes"],
        dynamic_axes=free,
        opset_version=17,
        dynamo=False,
    )


if __name__ == "__main__":
    main()

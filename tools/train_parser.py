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
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from larvasight.render.tiles import TILES_FILE
from parser_augment import augment
from parser_data import CellSamples, draw_samples, joined
from parser_net import N_CONTENT, CellNet
from parser_overlay import EMPTY, LARVA
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
    waves = Waves(args, _helper_of(device))
    held = draw_many(args, args.seed + 7_000_000, 60, 0)
    tiles = draw_many(args, args.seed + 8_000_000, 0, 120, for_tests=True)
    waves.draw_first()
    print(f"cells drawn in {time.monotonic() - start:.0f} s", flush=True)
    net = CellNet().to(device)
    if args.start:
        net.load_state_dict(torch.load(args.start, map_location=device, weights_only=True))
    mean = fit(net, waves, args, end_s=time.monotonic() + args.minutes * 60.0)
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
    parser.add_argument("--minutes", type=float, default=6.0, help="training ends by then")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seed", type=int, default=20_000)
    return parser.parse_args()


def draw_many(
    args: argparse.Namespace, seed: int, n_scenes: int, n_combs: int, *, for_tests: bool = False
) -> CellSamples:
    """Draw scenes and compose combs in several processes; the same seed gives the same cells.

    Folders whose tiles are still being rendered are left out.
    """
    there = [folder for folder in args.tiles if (folder / TILES_FILE).exists()]
    folders = tuple(there[:1] if for_tests else there)
    with multiprocessing.get_context("spawn").Pool(args.jobs, initializer=_one_thread) as pool:
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

    def __init__(self, args: argparse.Namespace, device: torch.device) -> None:
        self._args, self._device = args, device
        self._sets: list[tuple[Tensor, ...]] = []

    def draw_first(self) -> None:
        """Draw the first set; the others follow in the background."""
        self._draw(0)
        threading.Thread(target=self._draw_others, daemon=True).start()

    def _draw_others(self) -> None:
        for wave in range(1, self._args.waves):
            self._draw(wave)
            print(f"wave {wave} drawn", flush=True)

    def _draw(self, wave: int) -> None:
        args = self._args
        cells = draw_many(args, args.seed + 100_000 * wave, args.scenes, args.combs)
        drawn = _to_device(cells, self._device)
        # Chance picks from running sums: no waiting for the card.
        self._sets.append((*drawn, torch.cumsum(_pick_chances(drawn[1], drawn[2]), 0)))

    def batch(self, size: int, dtype: torch.dtype) -> tuple[Tensor, ...]:
        """Return changed cells, their maps, contents, food and what is known of the seen part."""
        with torch.no_grad():
            crops, maps, content, jelly, known, sums = self._sets[
                int(torch.randint(len(self._sets), ()))
            ]
            drawn = torch.rand(size, device=sums.device) * sums[-1]
            pick = torch.searchsorted(sums, drawn).clamp(max=len(sums) - 1)
            x, y, classes = augment(
                crops[pick].float() / 255.0, maps[pick].float() / 255.0, content[pick]
            )
            return x.to(dtype), y.to(dtype), classes, jelly[pick], known[pick]


def _helper_of(device: torch.device) -> torch.device:
    """Return the card that changes cells while the other one trains, where there are two."""
    return torch.device("cuda", 1) if torch.cuda.device_count() > 1 else device


def fit(net: nn.Module, waves: Waves, args: argparse.Namespace, *, end_s: float) -> nn.Module:
    """Train with AdamW and one cosine cycle; return the running mean of the network.

    Stops early at ``end_s`` on the monotonic clock.
    """
    device = next(net.parameters()).device
    dtype = torch.bfloat16 if device.type == "cuda" else torch.float32
    optimiser = torch.optim.AdamW(net.parameters(), lr=args.rate, weight_decay=0.02)
    mean = copy.deepcopy(net).eval()
    start_s, net_train = time.monotonic(), net.train()
    step, following = 0, waves.batch(args.batch, dtype)
    layout = torch.channels_last if args.channels_last else torch.contiguous_format
    net.to(memory_format=layout)
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
        loss = total_loss(
            map_logits.float(), class_logits.float(), y.float(), classes, jelly, known
        )
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        step += 1
        _follow(mean, net, step)
        if step % 500 == 0:
            print(f"step {step} loss {loss.item():.4f} {now - start_s:.0f} s", flush=True)
    return mean


def _follow(mean: nn.Module, net: nn.Module, step: int) -> None:
    """Move a running mean of weights and norms towards the network."""
    share = max(1.0 / _MEAN_STEPS, 1.0 / (step + 1.0))
    # Not as a decorator: torch is not there when types are checked.
    with torch.no_grad():
        for kept, now in zip(mean.state_dict().values(), net.state_dict().values(), strict=True):
            if kept.dtype.is_floating_point:
                kept.lerp_(now, share)


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
    known = (content < 3).float()
    food = F.cross_entropy(class_logits[:, N_CONTENT:], jelly, reduction="none")
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


def export(net: nn.Module, path: Path) -> None:
    """Write the network as ONNX with a free number of cells."""
    net = net.cpu().eval()
    free = {name: {0: "n"} for name in ("crops", "maps", "classes")}
    torch.onnx.export(
        net,
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

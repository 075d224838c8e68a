"""Draw cells, train the parser on them and write it as ONNX (needs the ``train`` extra).

python tools/train_parser.py --out larvasight/vision/cell_parser.onnx
"""

import argparse
import multiprocessing
import os
import time
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from parser_augment import augment
from parser_data import CellSamples, draw_samples
from parser_net import N_CONTENT, CellNet, load_onnx

_JELLY_WEIGHT = 0.3
_MAP_WEIGHTS = (1.0, 1.0, 1.0, 0.7)
_SCENES_PER_JOB = 12
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
    train = draw_many(args.seed, args.scenes, args.jobs)
    held = draw_many(args.seed + 7_000_000, max(24, args.scenes // 40), args.jobs)
    print(f"{len(train.crops)} cells drawn in {time.monotonic() - start:.0f} s", flush=True)
    net = (load_onnx(args.start) if args.start else CellNet()).to(device)
    data = _to_device(train, device)
    end_s = time.monotonic() + args.minutes * 60.0
    fit(net, data, args, end_s=end_s)
    report(net, _to_device(held, device))
    export(net, args.out)
    print(f"done in {time.monotonic() - start:.0f} s: {args.out}")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="ONNX file to write")
    parser.add_argument("--scenes", type=int, default=2400, help="drawn combs, 20 cells each")
    parser.add_argument("--start", type=Path, help="exported network to train on, without norms")
    parser.add_argument("--rate", type=float, default=2e-3, help="greatest learning rate")
    parser.add_argument("--steps", type=int, default=9000)
    parser.add_argument("--batch", type=int, default=192)
    parser.add_argument("--minutes", type=float, default=6.0, help="training ends by then")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seed", type=int, default=20_000)
    return parser.parse_args()


def draw_many(seed: int, n_scenes: int, jobs: int) -> CellSamples:
    """Draw scenes in several processes; the same seed gives the same cells."""
    n_jobs = max(1, n_scenes // _SCENES_PER_JOB)
    with multiprocessing.get_context("spawn").Pool(jobs, initializer=_one_thread) as pool:
        parts = pool.starmap(draw_samples, [(seed + i, _SCENES_PER_JOB) for i in range(n_jobs)], 1)
    return CellSamples(
        crops=np.concatenate([p.crops for p in parts]),
        maps=np.concatenate([p.maps for p in parts]),
        content=np.concatenate([p.content for p in parts]),
        jelly=np.concatenate([p.jelly for p in parts]),
    )


def _one_thread() -> None:
    import cv2

    cv2.setNumThreads(1)


def _to_device(samples: CellSamples, device: torch.device) -> tuple[Tensor, Tensor, Tensor, Tensor]:
    crops = torch.from_numpy(samples.crops.transpose(0, 3, 1, 2).copy()).to(device)
    return (
        crops,
        torch.from_numpy(samples.maps).to(device),
        torch.from_numpy(samples.content.astype(np.int64)).to(device),
        torch.from_numpy(samples.jelly.astype(np.int64)).to(device),
    )


def fit(
    net: nn.Module,
    data: tuple[Tensor, Tensor, Tensor, Tensor],
    args: argparse.Namespace,
    *,
    end_s: float,
) -> None:
    """Train with AdamW and one cosine cycle; stops early at ``end_s`` on the monotonic clock."""
    crops, maps, content, jelly = data
    device, steps = crops.device, args.steps
    optimiser = torch.optim.AdamW(net.parameters(), lr=args.rate, weight_decay=0.02)
    start_s, net_train = time.monotonic(), net.train()
    use_half = device.type == "cuda"
    step, chances = 0, _pick_chances(maps, content)
    net.to(memory_format=torch.channels_last)
    while step < steps:
        now = time.monotonic()
        share = max(step / steps, (now - start_s) / max(end_s - start_s, 1e-6))
        if share >= 1.0:
            break
        rate = args.rate * min(1.0, (step + 1) / 200.0) * 0.5 * (1.0 + np.cos(np.pi * share))
        for group in optimiser.param_groups:
            group["lr"] = rate
        pick = torch.multinomial(chances, args.batch, replacement=True)
        x, y = augment(crops[pick].float() / 255.0, maps[pick].float() / 255.0)
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=use_half):
            map_logits, class_logits = net_train(x.to(memory_format=torch.channels_last))
        loss = total_loss(map_logits.float(), class_logits.float(), y, content[pick], jelly[pick])
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        step += 1
        if step % 500 == 0:
            print(f"step {step} loss {loss.item():.4f} {now - start_s:.0f} s", flush=True)


def _pick_chances(maps: Tensor, content: Tensor) -> Tensor:
    """Return how often each cell is shown: small bodies, which matter most, twice as often."""
    area = torch.stack([m.float().sum() / 255.0 for m in maps[:, 0]])
    is_young = (content == 2) & (area < _YOUNG_AREA_PX2)
    return 1.0 + is_young.float()


def total_loss(
    map_logits: Tensor, class_logits: Tensor, maps: Tensor, content: Tensor, jelly: Tensor
) -> Tensor:
    """Cross entropy of maps and classes, plus overlap of each map."""
    loss = F.cross_entropy(class_logits[:, :N_CONTENT], content, label_smoothing=0.02)
    # Food is told of empty cells, eggs and larvae alone: the first three classes.
    known = content < 3
    if known.any():
        loss = loss + _JELLY_WEIGHT * F.cross_entropy(class_logits[known, N_CONTENT:], jelly[known])
    chance = torch.sigmoid(map_logits)
    cross = F.binary_cross_entropy_with_logits(map_logits, maps, reduction="none").mean((2, 3))
    both = (chance * maps).sum((2, 3))
    overlap = 1.0 - (2.0 * both + 8.0) / (chance.sum((2, 3)) + maps.sum((2, 3)) + 8.0)
    weights = torch.tensor(_MAP_WEIGHTS, device=maps.device)
    return loss + ((8.0 * cross + 0.5 * overlap) * weights).sum(1).mean()


def report(net: nn.Module, data: tuple[Tensor, Tensor, Tensor, Tensor]) -> None:
    """Print how often held-back cells are read right and how well maps overlap."""
    crops, maps, content, jelly = data
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

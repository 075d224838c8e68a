"""Cameras and views other than those of drawn comb: halos, blocks, casts, walls in the way."""

from __future__ import annotations

import math

import torch
from torch import Tensor

from parser_overlay import SIDE_PX, field, moved, places, soft, sometimes, uniform

# Cells that no camera changes, beside those that every change leaves out.
_PLAIN_CHANCE = 0.4
_WALL_CHANCE = 0.15
# Of a body so much may be hidden, or the cell stays open.
_MOST_HIDDEN = 0.4
_BLOCK_PX = 8


def walls(x: Tensor, y: Tensor) -> tuple[Tensor, Tensor]:
    """Let the near wall of some cells hide a part of them, as in a view from the side.

    Parameters
    ----------
    x : Tensor of shape (N, 3, 128, 128)
        Cells, 0-1.
    y : Tensor of shape (N, 4, 128, 128)
        Their maps, 0-1; what is hidden leaves the second.

    Returns
    -------
    tuple of Tensor
        The two, changed.
    """
    n, device = len(x), x.device
    px, py = places(device)
    # Most walls stand along a side of the hexagon.
    way = torch.floor(uniform(n, 0.0, 6.0, device)) * (math.pi / 3.0)
    way = way + 0.1 * torch.randn_like(way)
    out = px * torch.cos(way) + py * torch.sin(way)
    side = py * torch.cos(way) - px * torch.sin(way)
    line = uniform(n, 0.1, 0.42, device) + uniform(n, -0.4, 0.4, device) * side**2
    line = line + uniform(n, 0.0, 0.02, device) * field(n, 12, 1, device)
    over = torch.sigmoid((out - line) * uniform(n, 40.0, 160.0, device))
    body = torch.maximum(y[:, 0:1], y[:, 3:4])
    hidden = (body * over).sum((2, 3), keepdim=True) / body.sum((2, 3), keepdim=True).clamp(min=1.0)
    keep = sometimes(n, _WALL_CHANCE, device) * (hidden < _MOST_HIDDEN).float()
    # Its colour is that of the cell's own rim there, lighter or darker.
    rim = torch.sigmoid((out - 0.46) * 40.0)
    wax = (x * rim).sum((2, 3), keepdim=True) / rim.sum((2, 3), keepdim=True).clamp(min=1.0)
    lit = uniform(n, 0.6, 1.5, device) * (1.0 + uniform(n, -1.2, 1.2, device) * (out - line))
    wall = wax * lit * (1.0 + uniform(n, 0.0, 0.12, device) * field(n, 12, 1, device))
    edge = torch.exp(-(((out - line) / 0.012) ** 2)) * uniform(n, -0.2, 0.4, device)
    shade = torch.exp(-((out - line) / 0.08).clamp(max=0.0).abs()) * (1.0 - over)
    x = x * (1.0 - keep * shade * uniform(n, 0.0, 0.4, device))
    x = x + keep * over * ((wall * (1.0 + edge)).clamp(0.0, 1.0) - x)
    seen = y[:, 1:2] * (1.0 - keep * over)
    return x, torch.cat([y[:, :1], seen, y[:, 2:]], dim=1)


def camera(x: Tensor) -> Tensor:
    """Take most of the cells, shape (N, 3, 128, 128), 0-1, with another camera."""
    n, device = len(x), x.device
    made = _clipped(_halos(_cast(_moved(_focus(x)))))
    made = _blocks(made.clamp(0.0, 1.0))
    plain = torch.rand(n, 1, 1, 1, device=device) < _PLAIN_CHANCE
    return torch.where(plain, x, made).clamp(0.0, 1.0)


def _focus(x: Tensor) -> Tensor:
    """Let sharpness fall off towards one side or the rim."""
    n, device = len(x), x.device
    px, py = places(device)
    way = uniform(n, 0.0, 2.0 * math.pi, device)
    slant = px * torch.cos(way) + py * torch.sin(way)
    far = torch.where(sometimes(n, 0.5, device) > 0.0, slant + 0.2, torch.hypot(px, py) - 0.25)
    amount = (far * uniform(n, 1.0, 4.0, device)).clamp(0.0, 1.0) * sometimes(n, 0.3, device)
    return x + amount * (soft(x, 5) - x)


def _moved(x: Tensor) -> Tensor:
    """Smear some cells by a few px, all of a batch the same way."""
    step = torch.randint(-2, 3, (2,), device=x.device)
    smeared = x + moved(x, step) + moved(x, -step)
    amount = uniform(len(x), 0.3, 1.0, x.device) * sometimes(len(x), 0.2, x.device)
    return x + amount * (smeared / 3.0 - x)


def _cast(x: Tensor) -> Tensor:
    """Light cells by lamps from 2700 to 9000 K."""
    n, device = len(x), x.device
    warm = uniform(n, -1.0, 1.0, device) * sometimes(n, 0.6, device)
    gains = torch.cat([0.22 * warm, 0.05 * uniform(n, -1.0, 1.0, device), -0.32 * warm], dim=1)
    return x * torch.exp(gains)


def _halos(x: Tensor) -> Tensor:
    """Sharpen by much, near and wide, as phones do."""
    n, device = len(x), x.device
    near = uniform(n, 0.0, 1.4, device) * sometimes(n, 0.3, device)
    wide = uniform(n, 0.0, 0.9, device) * sometimes(n, 0.3, device)
    return x + near * (x - soft(x, 3)) + wide * (x - soft(x, 11))


def _clipped(x: Tensor) -> Tensor:
    """Burn the lights out of some cells, or drown their shadows."""
    n, device = len(x), x.device
    # Bright cells are not burnt out: nothing would be left to see.
    room = (3.0 * (0.6 - x.mean((1, 2, 3), keepdim=True))).clamp(0.0, 1.0)
    lights = 1.0 + room * uniform(n, 0.0, 0.6, device) * sometimes(n, 0.25, device)
    shadows = uniform(n, 0.0, 0.1, device) * sometimes(n, 0.2, device)
    return (x * lights - shadows) / (1.0 - shadows)


def _blocks(x: Tensor) -> Tensor:
    """Keep only coarse steps of each block's waves, as a file of low quality does."""
    n, device = len(x), x.device
    waves = _waves(device, x.dtype)
    # Blocks begin anywhere, all of a batch at the same place.
    line = torch.arange(SIDE_PX, device=device)
    waves = waves.index_select(
        1, (line + torch.randint(0, _BLOCK_PX, (1,), device=device)) % SIDE_PX
    )
    fine = (line % _BLOCK_PX).to(x.dtype)
    step = 1.0 + 0.6 * (fine.view(-1, 1) + fine.view(1, -1))
    step = step * uniform(n, 0.01, 0.05, device)
    coarse = torch.round(waves @ x @ waves.T / step) * step
    return torch.where(sometimes(n, 0.3, device) > 0.0, waves.T @ coarse @ waves, x)


def _waves(device: torch.device, dtype: torch.dtype) -> Tensor:
    """Return the cosine transform of blocks one after the other, shape (128, 128), orthonormal."""
    k = torch.arange(_BLOCK_PX, device=device, dtype=dtype)
    basis = torch.cos(math.pi / _BLOCK_PX * (k.view(1, -1) + 0.5) * k.view(-1, 1))
    basis = basis * torch.where(k.view(-1, 1) > 0.0, 2.0 / _BLOCK_PX, 1.0 / _BLOCK_PX).sqrt()
    return torch.kron(torch.eye(SIDE_PX // _BLOCK_PX, device=device, dtype=dtype), basis)

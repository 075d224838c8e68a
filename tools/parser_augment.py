"""Chance changes to drawn cells, so that the parser learns bodies and not one way to draw them."""

from collections.abc import Callable
from typing import Any, TypeVar

import torch
from torch import Tensor
from torch.nn import functional as F

from parser_camera import camera, walls
from parser_fresh import fresh
from parser_overlay import SIDE_PX, field, overlay, soft, sometimes, uniform
from parser_rings import pools, rings

_Stage = TypeVar("_Stage", bound=Callable[..., Any])


class Augmenter:
    """Mirrors cells, and changes their light, colour, sharpness, dirt and noise, each by itself.

    Some get another body, comb, egg or food, so that contents change too, and where food is laid
    its amount is not told: -1. Nothing here waits for the card or asks what a value is, so that it
    can be compiled; each stage by itself, since all as one takes many minutes.
    """

    def __init__(self, *, is_compiled: bool = False) -> None:
        def ready(stage: _Stage) -> _Stage:
            made: _Stage = torch.compile(stage) if is_compiled else stage
            return made

        self._turned, self._fresh, self._pools = ready(_turned), ready(fresh), ready(pools)
        self._rings, self._overlay, self._walls = ready(rings), ready(overlay), ready(walls)
        self._changed, self._camera = ready(_changed), ready(camera)

    def __call__(
        self, x: Tensor, y: Tensor, content: Tensor, jelly: Tensor
    ) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Return cells, maps, contents and amounts of food of a batch, changed.

        Parameters
        ----------
        x : Tensor of shape (N, 3, 128, 128)
            Cells, 0-1.
        y : Tensor of shape (N, 4, 128, 128)
            Their maps, 0-1.
        content, jelly : Tensor of shape (N,)
            Their classes.
        """
        x, y = self._turned(x, y)
        x, y, content, jelly, wanted = self._fresh(x, y, content, jelly)
        x, content, jelly = self._pools(x, y, content, jelly)
        x, y, jelly = self._rings(x, y, content, jelly, wanted)
        x, y, content = self._overlay(x, y, content)
        x, y = self._walls(x, y)
        return self._camera(self._changed(x, y)), y, content, jelly


def _turned(x: Tensor, y: Tensor) -> tuple[Tensor, Tensor]:
    """Mirror some cells, and bend all."""
    for axis in (2, 3):
        flip = torch.rand(len(x), 1, 1, 1, device=x.device) < 0.5
        x, y = torch.where(flip, x.flip(axis), x), torch.where(flip, y.flip(axis), y)
    return _warp(x, y)


def _changed(x: Tensor, y: Tensor) -> Tensor:
    """Return cells in any strength between what they were and another light, colour and dirt."""
    changed = _dirt(_blur(_colours(_lights(_bodies(x, y)))))
    noise = torch.rand(len(x), 1, 1, 1, device=x.device) ** 3 * 0.08
    changed = (changed + noise * torch.randn_like(x)).clamp(0.0, 1.0)
    return x + torch.rand(len(x), 1, 1, 1, device=x.device).sqrt() * (changed - x)


def _warp(x: Tensor, y: Tensor) -> tuple[Tensor, Tensor]:
    """Bend cells smoothly by a few px: bodies and pools of other shapes."""
    n, device = len(x), x.device
    base = F.affine_grid(
        torch.eye(2, 3, device=device).expand(n, 2, 3), list(x.shape), align_corners=False
    )
    amount = torch.rand(n, 1, 1, 1, device=device) ** 2 * 3.5 / (SIDE_PX / 2.0)
    shift = amount * field(n, 5, 2, device).permute(0, 2, 3, 1)
    grid = base * (1.0 + 0.04 * torch.randn(n, 1, 1, 2, device=device)) + shift
    both = torch.cat([x, y], dim=1)
    bent = F.grid_sample(both, grid, padding_mode="border", align_corners=False)
    return bent[:, :3], bent[:, 3:]


def _bodies(x: Tensor, y: Tensor) -> Tensor:
    """Give bodies other surfaces: smoother, lighter or darker, edges and surroundings changed."""
    n, device = len(x), x.device
    body = torch.maximum(torch.minimum(y[:, 0:1], y[:, 1:2]), y[:, 3:4])
    spread = soft(body, 5)
    x = x + body * uniform(n, 0.0, 1.0, device) * sometimes(n, 0.5, device) * (soft(x, 3) - x)
    tint = uniform(n, -0.12, 0.12, device) + uniform(n, -0.05, 0.05, device, 3)
    uneven = uniform(n, 0.0, 0.2, device) * field(n, 6, 1, device)
    x = x * (1.0 + body * sometimes(n, 0.6, device) * (tint + uneven))
    edge = body * (1.0 - spread)
    x = x * (1.0 + edge * uniform(n, -0.6, 0.6, device) * sometimes(n, 0.4, device))
    ring = (spread - body).clamp(min=0.0)
    x = x + ring * uniform(n, -0.35, 0.45, device) * sometimes(n, 0.4, device)
    sheen = (field(n, 10, 1, device) - 1.2).clamp(0.0, 0.6)
    return x + body * sheen * uniform(n, 0.0, 0.8, device) * sometimes(n, 0.4, device)


def _lights(x: Tensor) -> Tensor:
    """Uneven light, and a shadow's edge across some cells."""
    n, device = len(x), x.device
    x = x * torch.exp(uniform(n, 0.0, 0.35, device) * field(n, 3, 1, device))
    ramp = torch.linspace(-1.0, 1.0, SIDE_PX, device=device)
    turn = uniform(n, 0.0, 6.2832, device)
    side = torch.cos(turn) * ramp.view(1, 1, 1, -1) + torch.sin(turn) * ramp.view(1, 1, -1, 1)
    edge = torch.sigmoid((side - uniform(n, -0.6, 0.6, device)) * uniform(n, 4.0, 60.0, device))
    depth = uniform(n, 0.0, 0.6, device) * (torch.rand(n, 1, 1, 1, device=device) < 0.3)
    return x * (1.0 - depth * edge)


def _colours(x: Tensor) -> Tensor:
    n, device = len(x), x.device
    gamma = torch.exp(uniform(n, -0.45, 0.45, device))
    x = x.clamp(1e-4, 1.0) ** gamma
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * uniform(n, 0.0, 1.6, device)
    x = x * torch.exp(uniform(n, -0.25, 0.25, device, 3))
    level = x.mean((1, 2, 3), keepdim=True)
    return (
        (x - level) * uniform(n, 0.6, 1.4, device) + level * uniform(n, 0.6, 1.4, device)
    ).clamp(0, 1)


def _blur(x: Tensor) -> Tensor:
    """Soften a third of the cells, sharpen some others."""
    n, device = len(x), x.device
    wide = F.avg_pool2d(F.pad(x, (2, 2, 2, 2), mode="replicate"), 5, stride=1)
    wide = F.avg_pool2d(F.pad(wide, (1, 1, 1, 1), mode="replicate"), 3, stride=1)
    amount = uniform(n, 0.0, 1.0, device) * (torch.rand(n, 1, 1, 1, device=device) < 0.3)
    amount = amount - 0.8 * torch.rand(n, 1, 1, 1, device=device) * (
        torch.rand(n, 1, 1, 1, device=device) < 0.2
    )
    return x + amount * (wide - x)


def _dirt(x: Tensor) -> Tensor:
    """Fine mottling, and bright or dark specks and flares."""
    n, device = len(x), x.device
    x = x * (1.0 + uniform(n, 0.0, 0.12, device) * field(n, 24, 1, device))
    spots = (field(n, 20, 1, device) - uniform(n, 1.9, 3.5, device)).clamp(0.0, 0.3) / 0.3
    colour = torch.rand(n, 3, 1, 1, device=device)
    keep = (torch.rand(n, 1, 1, 1, device=device) < 0.4).float()
    return x + keep * spots * (colour - x)

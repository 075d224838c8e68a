"""Fresh comb painted anew: walls, rims and floors of three rhombi, from amber to near white."""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional as F

from parser_overlay import (
    EGG,
    EMPTY,
    LARVA,
    NO_FOOD,
    SIDE_PX,
    field,
    hexagon,
    places,
    soft,
    sometimes,
    uniform,
)

# Of the cells that are empty or hold brood, so many get another comb around them.
_FRESH_CHANCE = 0.3
_WAYS = tuple(math.radians(60.0 * k) for k in range(3))


def fresh(
    x: Tensor, y: Tensor, content: Tensor, jelly: Tensor
) -> tuple[Tensor, Tensor, Tensor, Tensor, Tensor]:
    """Paint some cells anew, without what they held.

    Parameters
    ----------
    x : Tensor of shape (N, 3, 128, 128)
        Cells, 0-1.
    y : Tensor of shape (N, 4, 128, 128)
        Their maps, 0-1.
    content, jelly : Tensor of shape (N,)
        Their classes.

    Returns
    -------
    tuple of Tensor
        The four, changed, and shape (N,), which cells want a body laid into them now: those that
        held a larva. Those that held an egg are empty.
    """
    n, device = len(x), x.device
    brood = (content == EMPTY) | (content == EGG) | (content == LARVA)
    # A count known beforehand: no waiting for the card, and no more comb than is used.
    picked = torch.randperm(n, device=device)[: max(1, round(n * _FRESH_CHANCE))]
    anew = brood & torch.zeros_like(brood).index_fill(0, picked, True)
    keep = anew.view(-1, 1, 1, 1)
    painted = x.index_copy(0, picked, _comb(len(picked), device))
    empty = torch.where(content == LARVA, content, torch.full_like(content, EMPTY))
    return (
        torch.where(keep, painted, x),
        torch.where(keep, torch.zeros_like(y), y),
        torch.where(anew, empty, content),
        torch.where(anew, torch.full_like(jelly, NO_FOOD), jelly),
        anew & (content == LARVA),
    )


def _comb(n: int, device: torch.device) -> Tensor:
    """Return comb of one colour, lit from one side, its neighbours like the cell itself."""
    px, py = (p.expand(n, 1, SIDE_PX, SIDE_PX) for p in places(device))
    torn = uniform(n, 0.0, 0.02, device) * field(n, 14, 1, device)
    reach = hexagon(px, py) + torn
    qx, qy, beside = _wrapped(px, py)
    base = _wax(n, device)
    floor, inside = _floor(n, qx, qy, base)
    walls = _walls(n, qx, qy, base)
    made = walls + inside * (floor - walls)
    made = made * (1.0 + beside * uniform(n, -0.4, 0.3, device))
    made = made + beside * _food(n, device) * (_wax(n, device).clamp(min=0.6) - made)
    made = _rims(n, made, reach, base)
    light = torch.exp(uniform(n, 0.0, 0.3, device) * field(n, 3, 1, device))
    grain = 1.0 + uniform(n, 0.0, 0.07, device) * torch.randn(n, 1, SIDE_PX, SIDE_PX, device=device)
    return (made * light * soft(grain, 3)).clamp(0.0, 1.0)


def _food(n: int, device: torch.device) -> Tensor:
    """Return where neighbours are full of food: all or part of a side."""
    return torch.sigmoid(field(n, 3, 1, device) * 8.0 - 4.0) * sometimes(n, 0.35, device)


def _wrapped(px: Tensor, py: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Return places from the middle of the cell they lie in, and 1 for the neighbours' places."""
    slants = torch.cat([px * math.cos(a) + py * math.sin(a) for a in _WAYS], dim=1)
    most = slants.abs().argmax(1, keepdim=True)
    slant = slants.gather(1, most)
    beside = (slant.abs() > 0.5).float()
    step = beside * slant.sign()
    way = most.float() * _WAYS[1]
    return px - step * torch.cos(way), py - step * torch.sin(way), beside


def _wax(n: int, device: torch.device) -> Tensor:
    """Return wax from near white over yellow and amber to brown, shape (n, 3, 1, 1)."""
    level = uniform(n, 0.15, 0.8, device)
    green = 1.0 - uniform(n, 0.0, 1.0, device).sqrt() * uniform(n, 0.12, 0.45, device)
    blue = green ** uniform(n, 2.0, 6.0, device)
    return level * torch.cat([torch.ones_like(level), green, blue], dim=1)


def _floor(n: int, qx: Tensor, qy: Tensor, base: Tensor) -> tuple[Tensor, Tensor]:
    """Return three rhombi that meet in a Y, and where they show."""
    device = qx.device
    # Seen aslant the floor lies off the rim's middle.
    wide = uniform(n, 0.3, 0.5, device)
    off, way = (
        uniform(n, 0.0, 1.0, device) * (0.56 - wide) * 0.8,
        uniform(n, 0.0, 2.0 * math.pi, device),
    )
    qx, qy = qx - off * torch.cos(way), qy - off * torch.sin(way)
    inside = torch.sigmoid((wide - hexagon(qx, qy)) * uniform(n, 25.0, 120.0, device))
    qx, qy = qx - uniform(n, -0.08, 0.08, device), qy - uniform(n, -0.08, 0.08, device)
    # The arms of the Y run to every second corner.
    turn = math.pi / 6.0 + math.pi / 3.0 * sometimes(n, 0.5, device)
    turn = turn + 0.12 * torch.randn_like(turn)
    third = 2.0 * math.pi / 3.0
    angle = torch.remainder(torch.atan2(qy, qx) - turn, 2.0 * math.pi)
    sector = torch.floor(angle / third).clamp(max=2.0)
    beside = (torch.minimum(angle % third, third - angle % third)).clamp(max=0.5 * math.pi)
    from_arm = torch.hypot(qx, qy) * torch.sin(beside)
    sharp = uniform(n, 0.003, 0.02, device)
    made = base * torch.ones_like(qx)
    grain = _grain(n, device)
    for k in range(3):
        # Rhombi blend where their edge is soft.
        own = (sector == k).float()
        made = made + own * (_facet(n, base, grain, device) - made)
    made = made + torch.exp(-((from_arm / sharp) ** 2)) * 0.7 * (soft(made, 3) - made)
    ridge = torch.exp(-((from_arm / uniform(n, 0.008, 0.03, device)) ** 2))
    made = made * (1.0 + ridge * uniform(n, -0.35, 0.5, device) * sometimes(n, 0.7, device))
    dashes = (field(n, 28, 1, device) + uniform(n, -0.5, 0.8, device)).clamp(0.0, 1.0)
    first = torch.minimum(angle, 2.0 * math.pi - angle) < 0.5 * third
    glint = torch.exp(-((from_arm / 0.014) ** 2)) * dashes * first * sometimes(n, 0.4, device)
    return made + glint * (1.0 - made), inside


def _facet(n: int, base: Tensor, grain: Tensor, device: torch.device) -> Tensor:
    """Return one rhombus: dull, clear or silvery."""
    dull = base * torch.exp(uniform(n, -0.7, 0.5, device))
    dull = dull * (1.0 + uniform(n, 0.0, 0.25, device) * grain)
    silver = base.mean(1, keepdim=True) * uniform(n, 0.9, 2.4, device)
    tint = torch.cat([torch.ones_like(silver), torch.full_like(silver, 0.95)], dim=1)
    tint = torch.cat([tint, uniform(n, 0.6, 0.95, device)], dim=1)
    silver = silver * tint * torch.exp(uniform(n, 0.05, 0.4, device) * grain)
    patchy = torch.sigmoid(field(n, 4, 1, device) * 3.0 + uniform(n, -1.0, 4.0, device))
    return dull + patchy * uniform(n, 0.3, 1.0, device) * sometimes(n, 0.4, device) * (
        silver - dull
    )


def _grain(n: int, device: torch.device) -> Tensor:
    """Return fine mottling, of flakes in some cells and of scratches in others."""
    fine = torch.randn(n, 1, SIDE_PX, SIDE_PX, device=device)
    flakes = soft(fine, 3) * 2.5
    scratches = F.avg_pool2d(F.pad(fine, (3, 3, 0, 0), mode="replicate"), (1, 7), stride=1) * 2.0
    pick = torch.rand(n, 1, 1, 1, device=device)
    return torch.where(pick < 0.75, flakes, torch.where(pick < 0.85, scratches, fine * 0.8))


def _walls(n: int, qx: Tensor, qy: Tensor, base: Tensor) -> Tensor:
    """Return six walls, each lit its own way."""
    device = qx.device
    sector = torch.floor(torch.remainder(torch.atan2(qy, qx) / _WAYS[1] + 0.5, 6.0)).clamp(max=5.0)
    shades = torch.exp(0.35 * torch.randn(n, 6, 1, 1, device=device))
    each = torch.arange(6, device=device).view(1, 6, 1, 1)
    shade = (shades * (sector == each)).sum(1, keepdim=True)
    deep = (hexagon(qx, qy) / 0.5).clamp(max=1.0)
    return base * soft(shade, 3) * (1.0 + uniform(n, -0.3, 0.7, device) * (deep - 0.8))


def _rims(n: int, made: Tensor, reach: Tensor, base: Tensor) -> Tensor:
    """Return comb with rims, thin and clear or thick and pale, torn here and there."""
    device = reach.device
    half = uniform(n, 0.01, 0.055, device) * (1.0 + 0.15 * field(n, 9, 1, device))
    away = (reach - 0.5).abs()
    over = torch.sigmoid((half - away) * uniform(n, 60.0, 200.0, device))
    pale = base.mean(1, keepdim=True).sqrt() * uniform(n, 0.7, 1.25, device)
    colour = base * uniform(n, 0.85, 1.8, device)
    colour = colour + uniform(n, 0.0, 0.6, device) * (pale - colour)
    lit = 1.0 + uniform(n, 0.0, 0.25, device) * field(n, 8, 1, device)
    made = made + over * (colour * lit - made)
    made = _flaps(n, made, away, pale, base)
    # A bright edge, where light shines through torn wax.
    line = torch.exp(-(((away - half) / 0.008) ** 2)) * (field(n, 6, 1, device) > 0.0).float()
    return made + line * uniform(n, 0.0, 0.6, device) * (pale.clamp(max=1.0) * 1.1 - made)


def _flaps(n: int, made: Tensor, away: Tensor, pale: Tensor, base: Tensor) -> Tensor:
    """Return comb with torn wax standing off its rims here and there, pale or clear."""
    device = away.device
    torn = field(n, 7, 1, device) + 0.5 * field(n, 24, 1, device)
    wide = 0.07 * (torn - uniform(n, 0.2, 1.6, device)).clamp(0.0, 1.5)
    over = torch.sigmoid((wide - away) * 150.0) * (wide > 0.0).float()
    clear = base * uniform(n, 0.9, 1.9, device)
    colour = clear + uniform(n, 0.0, 0.7, device) * (
        pale * pale.new_tensor([1.0, 0.92, 0.7]).view(1, 3, 1, 1) - clear
    )
    colour = colour * (1.0 + 0.12 * field(n, 24, 1, device))
    return made + over * uniform(n, 0.5, 1.0, device) * (colour - made)

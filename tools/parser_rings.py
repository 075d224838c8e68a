"""Larvae as real light shows them: clear, ringed across, glossy, on food as bright as they are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

from parser_overlay import (
    EMPTY,
    LARVA,
    PITCH_PX,
    UNCLEAR,
    UNTOLD,
    field,
    places,
    soft,
    sometimes,
    uniform,
)

# Of the larvae, so many are laid anew.
_LAID_CHANCE = 0.12
# Around so many of the others food is laid anew, and into so many empty cells.
_POOLED_CHANCE = 0.2
_POOL_ALONE_CHANCE = 0.15
# Lengths in pitches, of larvae of about 10 to 75 h.
_LENGTHS = (0.3, 1.5)
_CURLS_DEG = (100.0, 352.0)
# Of the bodies laid, so many are as clear and bright as the food that they swim on, and are known
# by their beads of light and folds alone.
_GLOSSY_CHANCE = 0.45
# So many of the longer ones are closed, however long they are.
_CLOSED_CHANCE = 0.25
_CLOSED_DEG = (325.0, 352.0)
# The middle line is drawn this wide, a share of the body's width, as in drawn cells.
_LINE_SHARE = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bodies:
    """Coordinates about each body, maps of shape (N, 1, 128, 128).

    ``along`` runs from -1 to 1 between its ends, ``across`` from -1 inside to 1 outside;
    ``away`` is the distance from the arc that it is drawn along, ``off_line`` that from its middle
    line, which goes on to the tips, and ``half_width`` what half of its width is there, pitches;
    ``length`` and ``glossy``, 1 for those on food that they are as bright as, have shape
    (N, 1, 1, 1).
    """

    along: Tensor
    across: Tensor
    away: Tensor
    off_line: Tensor
    half_width: Tensor
    length: Tensor
    glossy: Tensor
    mask: Tensor


def rings(
    x: Tensor, y: Tensor, content: Tensor, jelly: Tensor, wanted: Tensor
) -> tuple[Tensor, Tensor, Tensor]:
    """Lay food and another body into some of the cells that hold a larva, and all that want one.

    Parameters
    ----------
    x : Tensor of shape (N, 3, 128, 128)
        Cells, 0-1.
    y : Tensor of shape (N, 4, 128, 128)
        Their maps, 0-1.
    content, jelly : Tensor of shape (N,)
        Their classes.
    wanted : Tensor of shape (N,), bool
        Cells that must get a body.

    Returns
    -------
    tuple of Tensor
        Cells, maps and amounts of food, changed; how much was laid is not told.
    """
    n, device = len(x), x.device
    laid = (content == LARVA) & (torch.rand(n, device=device) < _LAID_CHANCE)
    laid = laid | wanted
    keep = laid.float().view(-1, 1, 1, 1)
    bodies = _bodies(n, device)
    under = _pool(x, y, bodies)
    changed = _body(under, bodies)
    line = torch.sigmoid((_LINE_SHARE * bodies.half_width - bodies.off_line) * PITCH_PX * 1.6)
    maps = torch.cat([bodies.mask, bodies.mask, line, torch.zeros_like(line)], dim=1)
    jelly = torch.where(laid, torch.full_like(jelly, UNTOLD), jelly)
    return x + keep * (changed - x), y + keep * (maps - y), jelly


def pools(x: Tensor, y: Tensor, content: Tensor, jelly: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Lay food around some larvae, and into some empty cells, where nothing can be told then.

    Round food shines as round bodies do: the difference is to be learned, too.

    Parameters
    ----------
    x, y, content, jelly : Tensor
        As of ``rings``.

    Returns
    -------
    tuple of Tensor
        Cells and both classes, changed.
    """
    n, device = len(x), x.device
    chance = torch.rand(n, device=device)
    around = (content == LARVA) & (chance < _POOLED_CHANCE)
    alone = (content == EMPTY) & (chance < _POOL_ALONE_CHANCE)
    body = torch.maximum(torch.minimum(y[:, 0:1], y[:, 1:2]), y[:, 3:4])
    food = _pool(x, torch.zeros_like(y), _bodies(n, device))
    gap = (soft(body, 3) * 1.6).clamp(max=1.0)
    keep = (around | alone).float().view(-1, 1, 1, 1) * (1.0 - gap)
    content = torch.where(alone, torch.full_like(content, UNCLEAR), content)
    jelly = torch.where(around, torch.full_like(jelly, UNTOLD), jelly)
    return x + keep * (food - x), content, jelly


def _bodies(n: int, device: torch.device) -> _Bodies:
    """Return bodies bent along a part of a circle, from crescents to closed rings."""
    px, py = places(device)
    turn, reach = uniform(n, 0.0, 2.0 * math.pi, device), uniform(n, 0.0, 0.13, device)
    way = uniform(n, 0.0, 2.0 * math.pi, device)
    px, py = px - reach * torch.cos(way), py - reach * torch.sin(way)
    # A floor that slopes shows its bodies narrower one way, whichever way they lie.
    slope, narrow = uniform(n, 0.0, math.pi, device), uniform(n, 0.72, 1.0, device)
    px, py = _squeezed(px, py, slope, narrow)
    cos, sin = torch.cos(turn), torch.sin(turn)
    px, py = px * cos + py * sin, py * cos - px * sin
    length = torch.exp(uniform(n, math.log(_LENGTHS[0]), math.log(_LENGTHS[1]), device))
    # The longer, the more closed; few long ones lie open.
    share = ((length - _LENGTHS[0]) / 0.7).clamp(0.0, 1.0)
    curl = _CURLS_DEG[0] + (_CURLS_DEG[1] - _CURLS_DEG[0]) * share
    curl = (curl + 45.0 * torch.randn_like(curl)).clamp(*_CURLS_DEG)
    is_closed = sometimes(n, _CLOSED_CHANCE, device) * (length > 0.5).float()
    curl = curl + is_closed * (uniform(n, *_CLOSED_DEG, device) - curl)
    curl = torch.deg2rad(curl)
    radius = length / curl
    half = torch.minimum(length * uniform(n, 0.09, 0.17, device), radius * 1.04)
    r = torch.hypot(px, py)
    angle = torch.atan2(py, px)
    along = angle / (0.5 * curl)
    cos, sin = torch.cos(0.5 * curl), torch.sin(0.5 * curl)
    end_x, end_y = px - radius * cos, py.abs() - radius * sin
    is_between = along.abs() <= 1.0
    away = torch.where(is_between, (r - radius).abs(), torch.hypot(end_x, end_y))
    half_width = half * (1.0 - uniform(n, 0.1, 0.45, device) * along.abs().clamp(max=1.0) ** 3)
    # Beyond its ends the line goes straight on to the tips, half a width away.
    on, off = end_y * cos - end_x * sin, end_x * cos + end_y * sin
    beyond = torch.hypot(off, (on - half_width).clamp(min=0.0) + (-on).clamp(min=0.0))
    off_line = torch.where(is_between, away, beyond)
    return _Bodies(
        along=along,
        across=((r - radius) / half_width).clamp(-1.0, 1.0),
        away=away,
        off_line=off_line,
        half_width=half_width,
        length=length,
        glossy=sometimes(n, _GLOSSY_CHANCE, device),
        mask=torch.sigmoid((half_width - away) * PITCH_PX * 1.6),
    )


def _squeezed(px: Tensor, py: Tensor, way: Tensor, narrow: Tensor) -> tuple[Tensor, Tensor]:
    along = px * torch.cos(way) + py * torch.sin(way)
    more = along * (1.0 / narrow - 1.0)
    return px + more * torch.cos(way), py + more * torch.sin(way)


def _pool(x: Tensor, y: Tensor, bodies: _Bodies) -> Tensor:
    """Return cells with milky food over the body that was there, shining here and there."""
    n, device = len(x), x.device
    px, py = places(device)
    near = torch.hypot(px - uniform(n, -0.1, 0.1, device), py - uniform(n, -0.1, 0.1, device))
    wide = uniform(n, 0.3, 0.58, device) + 0.1 * bodies.glossy + 0.05 * field(n, 5, 1, device)
    over = torch.sigmoid((wide - near) * uniform(n, 12.0, 60.0, device))
    before = (soft(torch.maximum(y[:, 0:1], y[:, 3:4]), 9) * 6.0).clamp(max=1.0)
    over = torch.maximum(torch.maximum(over, before), (soft(bodies.mask, 9) * 3.0).clamp(max=1.0))
    around = x.mean((1, 2, 3), keepdim=True)
    level = (around * uniform(n, 0.7, 3.0, device)).clamp(0.12, 0.82)
    level = torch.maximum(level, bodies.glossy * uniform(n, 0.2, 0.75, device))
    tint = torch.tensor([1.0, 0.95, 0.82], device=device).view(1, 3, 1, 1)
    tint = tint + uniform(n, -0.12, 0.1, device, 3)
    wax = x.mean((2, 3), keepdim=True) / around.clamp(min=1e-3)
    tint = tint + uniform(n, 0.0, 0.5, device) * (wax - tint)
    relief = 1.0 + uniform(n, 0.02, 0.22, device) * field(n, 3, 1, device)
    relief = relief + uniform(n, 0.0, 0.08, device) * field(n, 9, 1, device)
    milky = level * tint * relief
    shine = (field(n, 7, 1, device) - uniform(n, 1.3, 2.6, device)).clamp(0.0, 0.3) / 0.3
    milky = milky + shine * sometimes(n, 0.6, device) * uniform(n, 0.2, 1.0, device) * (1.0 - milky)
    return x + over * uniform(n, 0.75, 1.0, device) * (milky - x)


def _body(x: Tensor, bodies: _Bodies) -> Tensor:
    """Return food with a body on it: how clear it is, its rings, its beads of light."""
    n, device = len(x), x.device
    around = (x * bodies.mask).sum((2, 3), keepdim=True)
    around = around / bodies.mask.sum((2, 3), keepdim=True).clamp(min=1.0)
    tone = uniform(n, 0.72, 1.5, device)
    tone = tone + bodies.glossy * (1.0 + 0.2 * (tone - 1.0) - tone)
    own = around * tone + uniform(n, -0.03, 0.03, device, 3)
    grey = own.mean(1, keepdim=True)
    own = own + uniform(n, 0.0, 0.7, device) * (grey - own)
    across = bodies.across
    lit = 1.0 - uniform(n, -0.1, 0.5, device) * across**2 + uniform(n, -0.25, 0.25, device) * across
    stripe = torch.exp(-(((across - uniform(n, -0.3, 0.3, device)) / 0.28) ** 2))
    lit = lit + uniform(n, -0.15, 0.15, device) * stripe
    solid = uniform(n, 0.05, 1.0, device) * (1.0 - 0.5 * bodies.glossy)
    made = x + solid * (own * lit - x)
    phase = _phase(n, bodies, device)
    made = made * (1.0 + _lines(n, phase, across, device))
    edge = torch.exp(-(((1.0 - bodies.away / bodies.half_width) / 0.16) ** 2))
    made = made * (1.0 + edge * uniform(n, -0.35, 0.3, device))
    made = made * (1.0 + uniform(n, 0.0, 0.06, device) * field(n, 32, 1, device))
    # Here and there food runs over the body and hides its edge.
    veil = torch.sigmoid(field(n, 3, 1, device) * 4.0 - uniform(n, 1.0, 4.0, device))
    veil = veil * sometimes(n, 0.5, device) * bodies.glossy * uniform(n, 0.3, 1.0, device)
    made = made + veil * (x - made)
    bead = torch.maximum(_beads(n, phase, bodies, device), _glints(n, bodies, device))
    bead = torch.maximum(bead, _wet_beads(n, phase, bodies, device))
    made = made + bead * (1.0 - made)
    # Clear flesh has no hard edge.
    cover = bodies.mask + sometimes(n, 0.5, device) * (soft(bodies.mask, 5) - bodies.mask)
    return _meniscus(x + cover * (made.clamp(0.0, 1.2) - x), bodies)


def _phase(n: int, bodies: _Bodies, device: torch.device) -> Tensor:
    """Return where within its ring each place lies, -0.5 to 0.5; a larva has 13 rings or so."""
    count = uniform(n, 5.5, 13.0, device) + 0.15 * field(n, 4, 1, device)
    turns = bodies.along * count
    return turns - torch.round(turns)


def _lines(n: int, phase: Tensor, across: Tensor, device: torch.device) -> Tensor:
    """Return how much lighter or darker the borders of the rings are."""
    sharp = uniform(n, 0.06, 0.28, device)
    line = torch.exp(-((phase / sharp) ** 2))
    part = torch.sigmoid((across * uniform(n, -1.0, 1.0, device) + 0.4) * 5.0)
    strength = uniform(n, -0.2, 0.38, device) * sometimes(n, 0.85, device)
    return strength * line * part


def _beads(n: int, phase: Tensor, bodies: _Bodies, device: torch.device) -> Tensor:
    """Return glints in a row along the back, one to a ring, some rings without."""
    ridge = uniform(n, -0.1, 0.75, device)
    wide = uniform(n, 0.07, 0.28, device)
    row = torch.exp(-(((bodies.across - ridge) / wide) ** 2))
    second = torch.exp(-(((bodies.across + uniform(n, 0.1, 0.7, device)) / wide) ** 2))
    row = row + second * sometimes(n, 0.3, device)
    each = torch.exp(-(((phase.abs() - 0.5) / uniform(n, 0.1, 0.4, device)) ** 2))
    uneven = (0.5 + 0.9 * field(n, 7, 1, device)).clamp(0.0, 1.0)
    side = torch.sigmoid(field(n, 3, 1, device) * 3.0 + uniform(n, -1.0, 3.0, device))
    strength = uniform(n, 0.3, 1.8, device) * sometimes(n, 0.75, device)
    long_enough = ((bodies.length - 0.35) * 6.0).clamp(0.0, 1.0)
    return (row * each * uneven * side * strength * long_enough).clamp(0.0, 1.0)


def _wet_beads(n: int, phase: Tensor, bodies: _Bodies, device: torch.device) -> Tensor:
    """Return sharp white lights on glossy bodies, one to a ring, no two alike, some missing."""
    ridge = uniform(n, -0.2, 0.6, device) + 0.2 * field(n, 20, 1, device)
    row = torch.exp(-(((bodies.across - ridge) / uniform(n, 0.12, 0.35, device)) ** 2))
    each = torch.exp(-(((phase.abs() - 0.5) / uniform(n, 0.12, 0.3, device)) ** 2))
    uneven = 1.0 + 0.7 * field(n, 20, 1, device) + 0.3 * field(n, 4, 1, device)
    bead = (row * each * uneven - uniform(n, 0.3, 0.75, device)) * uniform(n, 2.0, 8.0, device)
    return bead.clamp(0.0, 1.0) * bodies.glossy * sometimes(n, 0.85, device)


def _glints(n: int, bodies: _Bodies, device: torch.device) -> Tensor:
    """Return small wet lights strewn along a part of the back, no two alike."""
    specks = field(n, 40, 1, device) + 0.6 * field(n, 28, 1, device)
    specks = ((specks - uniform(n, 1.2, 2.2, device)) * 4.0).clamp(0.0, 1.0)
    row = torch.exp(-(((bodies.across - uniform(n, -0.5, 0.6, device)) / 0.35) ** 2))
    part = torch.sigmoid(field(n, 3, 1, device) * 4.0 + uniform(n, -1.0, 3.0, device))
    return specks * row * part * uniform(n, 0.3, 1.2, device) * sometimes(n, 0.6, device)


def _meniscus(x: Tensor, bodies: _Bodies) -> Tensor:
    """Return cells with arcs of light just outside the body, where food climbs it."""
    n, device = len(x), x.device
    for chance in (0.45, 0.25):
        off = bodies.away - bodies.half_width - uniform(n, 0.005, 0.11, device)
        off = off - 0.012 * field(n, 4, 1, device)
        line = torch.exp(-((off / uniform(n, 0.004, 0.014, device)) ** 2))
        part = torch.sigmoid(field(n, 3, 1, device) * 6.0 - uniform(n, -1.0, 5.0, device))
        light = line * part * (bodies.across > 0.0).float() * sometimes(n, chance, device)
        # Some are dark: food bends the light of the wall.
        tone = torch.where(sometimes(n, 0.75, device) > 0.0, 1.0, 0.4)
        x = x + light * uniform(n, 0.3, 1.0, device) * (tone - x)
    return x

"""What real cells show that drawn ones lack: shining floors, eggs on them, glints, milky food."""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional as F

EMPTY, EGG, LARVA, UNCLEAR = 0, 1, 2, 6
# Amounts of food: none, and one that nobody knows.
NO_FOOD, UNTOLD = 0, -1
SIDE_PX = 128
# A pitch in crop px.
PITCH_PX = SIDE_PX / 1.24
_EGG_LAID_CHANCE = 0.45
# Bodies of about a day and more show their segments.
_SEGMENTS_FROM_PX2 = 500.0
# Cells that stay as they were drawn.
_PLAIN_CHANCE = 0.3


def overlay(x: Tensor, y: Tensor, content: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Lay over cells what real ones show.

    Parameters
    ----------
    x : Tensor of shape (N, 3, 128, 128)
        Cells, 0-1.
    y : Tensor of shape (N, 4, 128, 128)
        Their maps, 0-1.
    content : Tensor of shape (N,)
        Their classes.

    Returns
    -------
    tuple of Tensor
        The three, changed: some empty cells hold an egg now.
    """
    plain = torch.rand(len(x), device=x.device) < _PLAIN_CHANCE
    changed, maps, classes = _eggs(_floors(x, y, content), y, content)
    changed = _segments(_milk(changed, maps, classes), maps, classes)
    changed = _arcs(_intruders(changed), maps)
    keep = plain.view(-1, 1, 1, 1)
    return (
        torch.where(keep, x, changed),
        torch.where(keep, y, maps),
        torch.where(plain, content, classes),
    )


def uniform(n: int, low: float, high: float, device: torch.device, channels: int = 1) -> Tensor:
    """Return a number for each cell, shape (n, channels, 1, 1)."""
    return low + (high - low) * torch.rand(n, channels, 1, 1, device=device)


def sometimes(n: int, chance: float, device: torch.device) -> Tensor:
    """Return 1 for some cells, 0 for the others, shape (n, 1, 1, 1)."""
    return (torch.rand(n, 1, 1, 1, device=device) < chance).float()


def field(n: int, size: int, channels: int, device: torch.device) -> Tensor:
    """Return smooth noise of ``size`` knots a side, shape (n, channels, 128, 128)."""
    seed = torch.randn(n, channels, size, size, device=device)
    if size < 16:
        seed = F.interpolate(seed, size=(32, 32), mode="bicubic", align_corners=False)
    return F.interpolate(seed, size=(SIDE_PX, SIDE_PX), mode="bilinear", align_corners=False)


def soft(x: Tensor, size: int) -> Tensor:
    """Return maps blurred twice with a box of ``size`` px."""
    half = size // 2
    for _ in range(2):
        x = F.pad(x, (half, half, half, half), mode="replicate")
        x = F.avg_pool2d(F.avg_pool2d(x, (size, 1), stride=1), (1, size), stride=1)
    return x


def places(device: torch.device) -> tuple[Tensor, Tensor]:
    """Return x and y in pitches from the middle, each of shape (1, 1, 128, 128)."""
    line = (torch.arange(SIDE_PX, device=device) - (SIDE_PX - 1) / 2.0) / PITCH_PX
    return line.view(1, 1, 1, -1).expand(1, 1, SIDE_PX, SIDE_PX), line.view(1, 1, -1, 1).expand(
        1, 1, SIDE_PX, SIDE_PX
    )


def moved(x: Tensor, step: Tensor) -> Tensor:
    """Return maps moved by ``step``, whole px to the right and down, shape (2,), and round."""
    line = torch.arange(SIDE_PX, device=x.device)
    down = x.index_select(2, (line - step[1]) % SIDE_PX)
    return down.index_select(3, (line - step[0]) % SIDE_PX)


def hexagon(px: Tensor, py: Tensor) -> Tensor:
    """Return how wide a hexagon must be, from its middle to its sides, to reach each place."""
    slants = (px, 0.5 * px + math.sqrt(0.75) * py, 0.5 * px - math.sqrt(0.75) * py)
    return torch.stack([slant.abs() for slant in slants]).amax(0)


def _floors(x: Tensor, y: Tensor, content: Tensor) -> Tensor:
    """Give bare floors three rhombi, each lit its own way, some of them glittering."""
    n, device = len(x), x.device
    bare = ((content == EMPTY) | (content == EGG)).float().view(-1, 1, 1, 1)
    px, py = places(device)
    outer = hexagon(px, py)
    px = px - uniform(n, -0.24, 0.24, device)
    py = py - uniform(n, -0.24, 0.24, device)
    turn = uniform(n, 0.0, 2.0 * math.pi, device)
    angle = torch.atan2(py, px) + turn
    sector = torch.remainder(torch.floor(angle / (2.0 * math.pi / 3.0)), 3.0)
    # Seen aslant the floor ends at a wall on one side and short of it on the other.
    reach = torch.maximum(hexagon(px, py), outer - uniform(n, 0.0, 0.12, device))
    inside = torch.sigmoid((uniform(n, 0.26, 0.48, device) - reach) * 60.0)
    change = torch.zeros_like(px.expand(n, 1, SIDE_PX, SIDE_PX))
    glitter, silver = torch.zeros_like(change), torch.zeros_like(change)
    for k in range(3):
        own = (sector == k).float()
        change = change + own * uniform(n, -0.9, 0.9, device)
        glitter = glitter + own * sometimes(n, 0.4, device) * uniform(n, 0.1, 0.8, device)
        silver = silver + own * sometimes(n, 0.3, device) * uniform(n, 0.2, 0.9, device)
    grain = torch.randn(n, 1, SIDE_PX, SIDE_PX, device=device)
    grain = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.5, soft(grain, 3) * 2.5, grain)
    amount = bare * inside * sometimes(n, 0.5, device) * (1.0 - y[:, 3:4])
    edge = torch.sigmoid((soft(sector.expand_as(change), 3) - sector).abs() * 30.0 - 4.0)
    ridge = edge * uniform(n, -0.5, 0.6, device) * sometimes(n, 0.5, device)
    # One ridge may shine along its length, in dashes.
    shining = torch.exp(
        -(((angle.remainder(2.0 * math.pi / 3.0)) * torch.hypot(px, py) / 0.014) ** 2)
    )
    shining = shining * (sector == torch.floor(uniform(n, 0.0, 3.0, device))).float()
    shining = shining * (field(n, 24, 1, device) + uniform(n, -0.3, 1.0, device)).clamp(0.0, 1.0)
    ridge = ridge + 2.0 * shining * sometimes(n, 0.4, device)
    lit = torch.exp(amount * (soft(change, 3) + ridge + glitter * grain)).clamp(0.2, 5.0)
    x = x * lit
    # Wax that mirrors the sky loses its colour: grey and bright, as food would be.
    grey = x.mean(1, keepdim=True) * uniform(n, 1.0, 2.2, device) * (1.0 + 0.5 * glitter * grain)
    tint = torch.tensor([1.0, 0.97, 0.86], device=device).view(1, 3, 1, 1)
    return x + amount * soft(silver, 3) * (grey * tint - x)


def _eggs(x: Tensor, y: Tensor, content: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Lay a white rod with its shadow into some empty cells."""
    n, device = len(x), x.device
    laid = (content == EMPTY) & (torch.rand(n, device=device) < _EGG_LAID_CHANCE)
    keep = laid.float().view(-1, 1, 1, 1)
    px, py = places(device)
    turn = uniform(n, 0.0, 2.0 * math.pi, device)
    reach = 0.27 * uniform(n, 0.0, 1.0, device).sqrt()
    way = uniform(n, 0.0, 2.0 * math.pi, device)
    px, py = px - reach * torch.cos(way), py - reach * torch.sin(way)
    # Standing eggs look short.
    length = uniform(n, 0.09, 0.33, device)
    half_width = uniform(n, 0.022, 0.042, device)
    along = px * torch.cos(turn) + py * torch.sin(turn)
    across = py * torch.cos(turn) - px * torch.sin(turn)
    across = across + uniform(n, -1.2, 1.2, device) * along**2
    beyond = (along.abs() - (0.5 * length - half_width).clamp(min=0.0)).clamp(min=0.0)
    away = torch.hypot(across, beyond)
    mask = torch.sigmoid((half_width - away) * PITCH_PX * 1.6)
    # One way for the batch: light comes from one side.
    shadow = moved(away, torch.randint(-5, 6, (2,), device=device))
    shade = torch.sigmoid((half_width * 1.2 - shadow) * PITCH_PX * 0.8)
    x = x * (1.0 - keep * shade * (1.0 - mask) * uniform(n, 0.0, 0.6, device))
    round_off = (1.0 - 0.45 * (away / half_width).clamp(max=1.0) ** 2).clamp(0.0, 1.0)
    lit = (1.0 + uniform(n, -0.6, 0.6, device) * across / half_width).clamp(0.3, 1.4)
    white = torch.tensor([1.0, 0.96, 0.85], device=device).view(1, 3, 1, 1)
    around = x.mean((1, 2, 3), keepdim=True)
    level = (around * uniform(n, 1.15, 4.0, device)).clamp(0.25, 1.0)
    tint = white + uniform(n, -0.06, 0.06, device, 3)
    # Clear shells have a dark outline and a streak of light along them.
    streak = torch.exp(-(((across / half_width - uniform(n, -0.4, 0.4, device)) / 0.35) ** 2))
    line = torch.exp(-(((away / half_width - 0.95) / 0.22) ** 2))
    shell = 1.0 + streak * uniform(n, -0.1, 0.5, device) - line * uniform(n, -0.1, 0.6, device)
    shell = 1.0 + sometimes(n, 0.6, device) * (shell - 1.0)
    egg = level * tint * round_off * lit * shell
    cover = keep * mask * uniform(n, 0.75, 1.0, device)
    x = x + cover * (egg - x)
    maps = torch.cat([y[:, :3], torch.maximum(y[:, 3:4], keep * mask)], dim=1)
    return x, maps, torch.where(laid, torch.full_like(content, EGG), content)


def _milk(x: Tensor, y: Tensor, content: Tensor) -> Tensor:
    """Let food around a larva come as near to its colour as real milky food does."""
    n, device = len(x), x.device
    body = torch.minimum(y[:, 0:1], y[:, 1:2])
    has = ((content == LARVA).float().view(-1, 1, 1, 1)) * sometimes(n, 0.35, device)
    area = body.sum((2, 3), keepdim=True).clamp(min=1.0)
    colour = (x * body).sum((2, 3), keepdim=True) / area
    near = soft(body, 25) * 3.0 + 0.35 * field(n, 4, 1, device)
    pool = torch.sigmoid((near - uniform(n, 0.2, 0.7, device)) * 8.0)
    # A thin line about the body stays: there its edge is seen.
    rim = (soft(body, 3) - body).clamp(min=0.0)
    outside = (1.0 - body) * (1.0 - (rim * 4.0).clamp(max=1.0) * uniform(n, 0.2, 1.0, device))
    milky = colour * uniform(n, 0.85, 1.12, device) * (1.0 + 0.06 * field(n, 10, 1, device))
    return x + has * pool * outside * uniform(n, 0.0, 0.85, device) * (milky - x)


def _segments(x: Tensor, y: Tensor, content: Tensor) -> Tensor:
    """Let larger bodies shine through, ringed across by segments that each carry a glint."""
    n, device = len(x), x.device
    whole, body = y[:, 0:1], torch.minimum(y[:, 0:1], y[:, 1:2])
    area = whole.sum((2, 3), keepdim=True).clamp(min=1.0)
    has = (content == LARVA).float().view(-1, 1, 1, 1) * sometimes(n, 0.5, device)
    has = has * (area > _SEGMENTS_FROM_PX2).float()
    near = (soft(whole, 15) * (1.0 - (soft(whole, 3) * 3.0).clamp(max=1.0))).clamp(min=0.0)
    around = (x * near).sum((2, 3), keepdim=True) / near.sum((2, 3), keepdim=True).clamp(min=1e-3)
    own = (x * body).sum((2, 3), keepdim=True) / body.sum((2, 3), keepdim=True).clamp(min=1.0)
    around = torch.maximum(around, 0.7 * own)
    clear = has * body * uniform(n, 0.0, 0.9, device)
    x = x + clear * (around * uniform(n, 0.8, 1.15, device) - x)
    px, py = places(device)
    px = px - (px * whole).sum((2, 3), keepdim=True) / area
    py = py - (py * whole).sum((2, 3), keepdim=True) / area
    radius = torch.hypot(px, py)
    middle = (radius * whole).sum((2, 3), keepdim=True) / area
    count = torch.round(uniform(n, 13.0, 32.0, device))
    phase = uniform(n, 0.0, 6.3, device) + 0.4 * field(n, 5, 1, device)
    wave = torch.cos(torch.atan2(py, px) * count + phase)
    edge = (body * (1.0 - soft(body, 5)) * 3.0).clamp(max=1.0)
    x = x * (1.0 + has * body * wave * uniform(n, 0.0, 0.14, device) * (0.4 + 0.6 * edge))
    side = torch.sigmoid((radius - middle) * uniform(n, -60.0, 60.0, device))
    glint = ((wave - uniform(n, 0.5, 0.9, device)) * 5.0).clamp(0.0, 1.0) * edge * side
    glint = glint * (0.6 + 0.6 * field(n, 8, 1, device)).clamp(0.0, 1.0)
    return x + has * glint * uniform(n, 0.0, 1.0, device) * (1.0 - x)


def _arcs(x: Tensor, y: Tensor) -> Tensor:
    """Draw bright arcs, as where wet food meets a wall, and glints in rows."""
    n, device = len(x), x.device
    px, py = places(device)
    body = y[:, 0:1]
    for chance in (0.3, 0.2):
        cx, cy = uniform(n, -0.2, 0.2, device), uniform(n, -0.2, 0.2, device)
        dx, dy = px - cx, py - cy
        radius = uniform(n, 0.14, 0.48, device)
        squeeze = uniform(n, 0.75, 1.3, device)
        away = (torch.hypot(dx * squeeze, dy) - radius).abs()
        width = uniform(n, 0.006, 0.022, device)
        line = torch.exp(-((away / width) ** 2))
        turn, span = uniform(n, 0.0, 2.0 * math.pi, device), uniform(n, 0.3, 2.6, device)
        off = torch.remainder(torch.atan2(dy, dx) - turn + math.pi, 2.0 * math.pi) - math.pi
        line = line * torch.sigmoid((span - off.abs()) * 8.0)
        dots = 0.5 + 0.5 * torch.cos(off * uniform(n, 10.0, 40.0, device))
        line = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.25, line * dots, line)
        over = line * sometimes(n, chance, device) * uniform(n, 0.3, 1.0, device)
        # Mostly beside the body: a line across it could be its edge.
        over = over * (1.0 - body * sometimes(n, 0.7, device))
        x = x + over * (uniform(n, 0.7, 1.0, device) - x)
    return x


def _intruders(x: Tensor) -> Tensor:
    """Let torn rims, crumbs and antennae reach in from the sides."""
    n, device = len(x), x.device
    px, py = places(device)
    radius = torch.hypot(px, py) + 0.07 * field(n, 7, 1, device)
    outer = torch.sigmoid((radius - uniform(n, 0.36, 0.62, device)) * 60.0)
    side = torch.cos(torch.atan2(py, px) - uniform(n, 0.0, 2.0 * math.pi, device))
    part = torch.sigmoid((side - uniform(n, -1.0, 0.9, device)) * 12.0)
    colour = torch.rand(n, 3, 1, 1, device=device) * uniform(n, 0.2, 1.1, device)
    warm = torch.tensor([1.0, 0.75, 0.4], device=device).view(1, 3, 1, 1)
    colour = torch.where(torch.rand(n, 1, 1, 1, device=device) < 0.6, warm * colour[:, :1], colour)
    texture = 1.0 + 0.25 * field(n, 16, 1, device)
    over = outer * part * sometimes(n, 0.3, device)
    x = x + over * (colour * texture - x)
    turn, off = uniform(n, 0.0, math.pi, device), uniform(n, -0.45, 0.45, device)
    away = (px * torch.sin(turn) - py * torch.cos(turn) - off).abs()
    along = px * torch.cos(turn) + py * torch.sin(turn) - uniform(n, -0.3, 0.5, device)
    hair = torch.sigmoid((uniform(n, 0.004, 0.03, device) - away) * 120.0)
    hair = hair * torch.sigmoid(along * 60.0) * sometimes(n, 0.06, device)
    return x + hair * (uniform(n, 0.0, 0.3, device, 3) - x)

"""The small network that reads one rectified cell, as trained (needs the ``train`` extra)."""

from __future__ import annotations

from torch import Tensor, nn

N_CONTENT = 7
N_JELLY = 3
N_MAPS = 4
# Channels at a half, a quarter, an eighth and a sixteenth of the crop's side.
_WIDTHS = (16, 32, 64, 128)


class CellNet(nn.Module):
    """Crops (N, 3, 128, 128) in 0-1 to maps (N, 4, 128, 128) and classes (N, 10), as logits.

    Maps: whole body, seen body, middle line, egg. Classes: seven contents, three amounts of
    jelly. Inverted residual blocks (Sandler et al. 2018), which a processor runs fast; batch
    norms melt into the convolutions on export.
    """

    def __init__(self) -> None:
        super().__init__()
        w0, w1, w2, w3 = _WIDTHS
        self.stem = _conv(3, w0, size=3, stride=2)
        self.down1 = nn.Sequential(_conv(w0, w1, size=3, stride=2), _Block(w1, 3))
        self.down2 = nn.Sequential(_conv(w1, w2, size=3, stride=2), _Block(w2, 5), _Block(w2, 5))
        self.down3 = nn.Sequential(
            _conv(w2, w3, size=3, stride=2), _Block(w3, 5), _Block(w3, 5), _Block(w3, 3)
        )
        self.side3 = _conv(w3, w2, size=1)
        self.up2 = nn.Sequential(_Block(w2, 5), _Block(w2, 3))
        self.side2 = _conv(w2, w1, size=1)
        self.up1 = nn.Sequential(_Block(w1, 5), _Block(w1, 3))
        self.side1 = _conv(w1, w0, size=1)
        self.up0 = _conv(w0, w0, size=3)
        self.maps = nn.Conv2d(w0, 4 * N_MAPS, 1)
        self.classes = nn.Sequential(
            nn.Conv2d(w3, 64, 4, stride=4),
            nn.ReLU(),
            nn.Flatten(),
            nn.Linear(256, N_CONTENT + N_JELLY),
        )
        self.grow = nn.Upsample(scale_factor=2, mode="nearest")

    def forward(self, crops: Tensor) -> tuple[Tensor, Tensor]:
        """Return map logits and class logits."""
        maps, classes = self.packed(crops)
        return nn.functional.pixel_shuffle(maps, 2), classes

    def packed(self, crops: Tensor) -> tuple[Tensor, Tensor]:
        """Return map logits of shape (N, 16, 64, 64), not side by side yet, and class logits."""
        x0 = self.stem((crops - 0.5) * 4.0)
        x1 = self.down1(x0)
        x2 = self.down2(x1)
        x3 = self.down3(x2)
        y2 = self.up2(x2 + self.grow(self.side3(x3)))
        y1 = self.up1(x1 + self.grow(self.side2(y2)))
        y0 = self.up0(x0 + self.grow(self.side1(y1)))
        return self.maps(y0), self.classes(x3)


class PackedNet(nn.Module):
    """A network whose maps are left as channels: numpy lays them side by side more quickly."""

    def __init__(self, net: CellNet) -> None:
        super().__init__()
        self.net = net

    def forward(self, crops: Tensor) -> tuple[Tensor, Tensor]:
        """Return map logits of shape (N, 16, 64, 64) and class logits."""
        return self.net.packed(crops)


class _Block(nn.Module):
    """Widen, look around each channel by itself, narrow; and the way round it."""

    def __init__(self, n: int, size: int, grow: int = 2) -> None:
        super().__init__()
        self.inner = nn.Sequential(
            _conv(n, grow * n, size=1),
            _conv(grow * n, grow * n, size=size, groups=grow * n),
            nn.Conv2d(grow * n, n, 1, bias=False),
            nn.BatchNorm2d(n),
        )

    def forward(self, x: Tensor) -> Tensor:
        return x + self.inner(x)


def _conv(n_in: int, n_out: int, *, size: int, stride: int = 1, groups: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(n_in, n_out, size, stride, size // 2, groups=groups, bias=False),
        nn.BatchNorm2d(n_out),
        nn.ReLU(),
    )

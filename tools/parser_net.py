"""The small network that reads one rectified cell, as trained (needs the ``train`` extra)."""

import torch
from torch import Tensor, nn

N_CONTENT = 6
N_JELLY = 3
N_MAPS = 4


def _conv(n_in: int, n_out: int, *, stride: int = 1, size: int = 3) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(n_in, n_out, size, stride=stride, padding=size // 2, bias=False),
        nn.BatchNorm2d(n_out),
        nn.ReLU(inplace=True),
    )


class _Block(nn.Module):
    """Two convolutions and the way round them."""

    def __init__(self, n: int) -> None:
        super().__init__()
        self.first = _conv(n, n)
        self.second = nn.Sequential(nn.Conv2d(n, n, 3, padding=1, bias=False), nn.BatchNorm2d(n))

    def forward(self, x: Tensor) -> Tensor:
        out: Tensor = torch.relu(x + self.second(self.first(x)))
        return out


class CellNet(nn.Module):
    """Crops (N, 3, 128, 128) in 0-1 to maps (N, 4, 128, 128) and classes (N, 9), as logits.

    Maps: whole body, seen body, middle line, egg. Classes: six contents, three amounts of jelly.
    """

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(_conv(3, 16, stride=2), _conv(16, 24))
        self.down1 = nn.Sequential(_conv(24, 40, stride=2), _Block(40))
        self.down2 = nn.Sequential(_conv(40, 64, stride=2), _Block(64))
        self.down3 = nn.Sequential(_conv(64, 96, stride=2), _Block(96), _Block(96))
        self.side3 = _conv(96, 64, size=1)
        self.side2 = _conv(64, 40, size=1)
        self.side1 = _conv(40, 24, size=1)
        self.up2 = _Block(64)
        self.up1 = _Block(40)
        self.up0 = _Block(24)
        self.grow = nn.Upsample(scale_factor=2, mode="nearest")
        self.maps = nn.Conv2d(24, 4 * N_MAPS, 3, padding=1)
        self.classes = nn.Sequential(
            nn.Conv2d(96, 64, 4, stride=4, bias=True),
            nn.ReLU(),
            nn.Flatten(),
            nn.Linear(256, N_CONTENT + N_JELLY),
        )

    def forward(self, crops: Tensor) -> tuple[Tensor, Tensor]:
        """Return map logits and class logits."""
        x0 = self.stem((crops - 0.5) * 4.0)
        x1 = self.down1(x0)
        x2 = self.down2(x1)
        x3 = self.down3(x2)
        y2 = self.up2(x2 + self.grow(self.side3(x3)))
        y1 = self.up1(x1 + self.grow(self.side2(y2)))
        y0 = self.up0(x0 + self.grow(self.side1(y1)))
        return nn.functional.pixel_shuffle(self.maps(y0), 2), self.classes(x3)

"""The small network that reads one rectified cell, as trained (needs the ``train`` extra)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import torch
from torch import Tensor, nn

if TYPE_CHECKING:
    from pathlib import Path

N_CONTENT = 7
N_JELLY = 3
N_MAPS = 4


class CellNet(nn.Module):
    """Crops (N, 3, 128, 128) in 0-1 to maps (N, 4, 128, 128) and classes (N, 10), as logits.

    Maps: whole body, seen body, middle line, egg. Classes: seven contents, three amounts of
    jelly. ``norm`` puts batch norms behind the convolutions, for training from nothing; they
    melt into the convolutions on export, and a network trained on has none.
    """

    def __init__(self, *, norm: bool = True) -> None:
        super().__init__()
        self._norm = norm
        self.stem = nn.Sequential(self._conv(3, 16, stride=2), self._conv(16, 24))
        self.down1 = nn.Sequential(self._conv(24, 40, stride=2), self._block(40))
        self.down2 = nn.Sequential(self._conv(40, 64, stride=2), self._block(64))
        self.down3 = nn.Sequential(self._conv(64, 96, stride=2), self._block(96), self._block(96))
        self.side3 = self._conv(96, 64, size=1)
        self.up2 = self._block(64)
        self.side2 = self._conv(64, 40, size=1)
        self.up1 = self._block(40)
        self.side1 = self._conv(40, 24, size=1)
        self.up0 = self._block(24)
        self.maps = nn.Conv2d(24, 4 * N_MAPS, 3, padding=1)
        self.classes = nn.Sequential(
            nn.Conv2d(96, 64, 4, stride=4),
            nn.ReLU(),
            nn.Flatten(),
            nn.Linear(256, N_CONTENT + N_JELLY),
        )
        self.grow = nn.Upsample(scale_factor=2, mode="nearest")

    def _conv(self, n_in: int, n_out: int, *, stride: int = 1, size: int = 3) -> nn.Sequential:
        return nn.Sequential(*self._bare(n_in, n_out, stride=stride, size=size), nn.ReLU())

    def _bare(self, n_in: int, n_out: int, *, stride: int = 1, size: int = 3) -> list[nn.Module]:
        conv = nn.Conv2d(n_in, n_out, size, stride, size // 2, bias=not self._norm)
        return [conv, nn.BatchNorm2d(n_out)] if self._norm else [conv]

    def _block(self, n: int) -> _Block:
        return _Block(nn.Sequential(self._conv(n, n), *self._bare(n, n)))

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


class _Block(nn.Module):
    """Two convolutions and the way round them."""

    def __init__(self, inner: nn.Module) -> None:
        super().__init__()
        self.inner = inner

    def forward(self, x: Tensor) -> Tensor:
        return torch.relu(x + self.inner(x))


def load_onnx(path: Path) -> CellNet:
    """Return an exported network, to be trained on.

    Raises
    ------
    ValueError
        If the file's layers are not those of ``CellNet``.
    """
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    stored = {item.name: numpy_helper.to_array(item) for item in graph.initializer}
    weights = [
        (stored[node.input[1]], stored[node.input[2]])
        for node in graph.node
        if node.op_type in {"Conv", "Gemm"}
    ]
    net = CellNet(norm=False)
    layers = [m for m in net.modules() if isinstance(m, nn.Conv2d | nn.Linear)]
    if [tuple(m.weight.shape) for m in layers] != [w.shape for w, _ in weights]:
        msg = f"path must hold an exported CellNet, got {path}"
        raise ValueError(msg)
    with torch.no_grad():
        for layer, (weight, bias) in zip(layers, weights, strict=True):
            layer.weight.copy_(torch.from_numpy(weight.copy()))
            layer.bias.copy_(torch.from_numpy(bias.copy()))
    return net

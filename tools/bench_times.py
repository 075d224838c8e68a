"""How long a call takes, for the benchmarks."""

from __future__ import annotations

import statistics
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable


def median_s(call: Callable[[], object], repeats: int) -> float:
    """Return the median time of a call in seconds, after one call to warm up."""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return statistics.median(times)

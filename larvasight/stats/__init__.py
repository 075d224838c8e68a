"""Honest figures from few choices: intervals of proportions, and telling good from bad."""

from larvasight.stats.detection import Detection, d_prime_of_rates, detection
from larvasight.stats.proportions import (
    Interval,
    newcombe_difference,
    wilson_bounds,
    wilson_interval,
)

__all__ = [
    "Detection",
    "Interval",
    "d_prime_of_rates",
    "detection",
    "newcombe_difference",
    "wilson_bounds",
    "wilson_interval",
]

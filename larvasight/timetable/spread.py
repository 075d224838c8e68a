"""Ages on a comb: brood laid evenly over some hours, hatching with a spread."""

import math
from dataclasses import dataclass
from itertools import pairwise

from larvasight.errors import require_between, require_positive

_SEARCH_SD = 8.0
_HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeSpread:
    """Ages at one moment: even from the youngest to the oldest, each with a normal spread.

    Attributes
    ----------
    youngest_h, oldest_h : float
        Hours after hatching of brood whose egg stage is of the mean length; eggs negative.
    sd_h : float
        Standard deviation of the egg stage; > 0.
    """

    youngest_h: float
    oldest_h: float
    sd_h: float

    def __post_init__(self) -> None:
        """Refuse an oldest below the youngest."""
        require_positive("sd_h", self.sd_h)
        require_between("youngest_h", self.youngest_h, -math.inf, self.oldest_h)

    @property
    def mean_h(self) -> float:
        """Mean age of all brood, eggs counted with their negative ages."""
        return (self.youngest_h + self.oldest_h) / 2.0

    def share_below(self, age_h: float) -> float:
        """Return the share of all brood that is younger than an age."""
        low = (age_h - self.oldest_h) / self.sd_h
        high = (age_h - self.youngest_h) / self.sd_h
        if high - low < 1e-6:
            return _normal_share(high)
        # The mean of the normal distribution function over an even span, in closed form.
        return (_ramp(high) - _ramp(low)) / (high - low)

    def share_between(self, low_h: float, high_h: float) -> float:
        """Return the share of all brood between two ages."""
        require_between("low_h", low_h, -math.inf, high_h)
        return self.share_below(high_h) - self.share_below(low_h)

    def age_at(self, share: float, *, of_larvae: bool = False) -> float:
        """Return the age below which this share of the brood lies, or of what has hatched."""
        require_between("share", share, 0.0, 1.0)
        unhatched = self.share_below(0.0)
        wanted = unhatched + share * (1.0 - unhatched) if of_larvae else share
        low = self.youngest_h - _SEARCH_SD * self.sd_h
        high = self.oldest_h + _SEARCH_SD * self.sd_h
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            if self.share_below(middle) < wanted:
                low = middle
            else:
                high = middle
        return (low + high) / 2.0

    def mean_between(self, low_h: float, high_h: float) -> float:
        """Return the mean age of what lies between two ages; their middle if nothing does."""
        n_parts = 60
        step = (high_h - low_h) / n_parts
        edges = [low_h + step * k for k in range(n_parts + 1)]
        below = [self.share_below(edge) for edge in edges]
        shares = [after - before for before, after in pairwise(below)]
        total = sum(shares)
        if total < 1e-9:
            return (low_h + high_h) / 2.0
        parts = zip(shares, edges, strict=False)
        return sum(share * (edge + step / 2.0) for share, edge in parts) / total

    def later(self, hours: float) -> "AgeSpread":
        """Return the ages some hours later, or earlier for a negative number."""
        return AgeSpread(
            youngest_h=self.youngest_h + hours, oldest_h=self.oldest_h + hours, sd_h=self.sd_h
        )


def _normal_share(z: float) -> float:
    return 0.5 * (1.0 + math.erf(z / math.sqrt(2.0)))


def _ramp(z: float) -> float:
    """Return the integral of the normal distribution function up to ``z``."""
    return z * _normal_share(z) + math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)

"""Honest figures from few choices: intervals, telling good from bad, where the line is drawn."""

from larvasight.stats.adaptive import QuestionTable, bayes
from larvasight.stats.agreement import Agreement, agreement
from larvasight.stats.comparing import (
    Pair,
    Within,
    fisher_p,
    trials_to_tell,
    within_strata,
)
from larvasight.stats.detection import Detection, d_prime_of_rates, detection
from larvasight.stats.edge_groups import edges_of_groups
from larvasight.stats.edges import EdgePosterior, Estimate, edge_difference
from larvasight.stats.proportions import (
    Interval,
    clopper_pearson_interval,
    newcombe_difference,
    wilson_bounds,
    wilson_interval,
)

__all__ = [
    "Agreement",
    "Detection",
    "EdgePosterior",
    "Estimate",
    "Interval",
    "Pair",
    "QuestionTable",
    "Within",
    "agreement",
    "bayes",
    "clopper_pearson_interval",
    "d_prime_of_rates",
    "detection",
    "edge_difference",
    "edges_of_groups",
    "fisher_p",
    "newcombe_difference",
    "trials_to_tell",
    "wilson_bounds",
    "wilson_interval",
    "within_strata",
]

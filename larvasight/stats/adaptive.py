"""Which question tells most: expected information and spread on a grid of parameters.

The grid holds every combination of parameters that is thought possible, with a weight each.
A question is a row of chances: how likely each combination answers yes. Choosing the question
that leaves the least expected entropy is the rule of Watson 2017 (Journal of Vision 17(3):10),
here for yes-or-no answers and any table of chances.
"""

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

_TINY = 1e-12


class QuestionTable:
    """Chances of yes for each question and each combination of parameters.

    Parameters
    ----------
    chance_yes : ndarray of shape (N, K), floating
        N questions asked of K combinations, each in 0-1. Its precision is that of the results.
    values : ndarray of shape (M, K), optional
        What is wanted of each combination, for ``expected_variance``; one unit.

    Raises
    ------
    ValueError
        If a chance lies outside 0-1, or the tables do not fit each other.
    """

    def __init__(
        self, chance_yes: NDArray[np.floating], values: NDArray[np.floating] | None = None
    ) -> None:
        if chance_yes.ndim != 2 or not ((chance_yes >= 0.0) & (chance_yes <= 1.0)).all():
            msg = f"chance_yes must have shape (N, K) and lie in 0-1, got {chance_yes.shape}"
            raise ValueError(msg)
        if values is not None and values.shape[-1] != chance_yes.shape[1]:
            msg = f"values must have {chance_yes.shape[1]} columns, got {values.shape[-1]}"
            raise ValueError(msg)
        self._chance_yes = chance_yes
        self._values = values

    @cached_property
    def _certainty(self) -> NDArray[np.floating]:
        return _certainty(self._chance_yes)

    def information(self, weights: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return what each question is expected to tell, nats.

        The expected entropy after a question is the entropy before it less this.

        Parameters
        ----------
        weights : ndarray of shape (..., K)
            Weights of the combinations, summing to 1.

        Returns
        -------
        ndarray of shape (..., N)
        """
        weights = self._felt(weights)
        told: NDArray[np.floating] = weights @ self._certainty.T
        return told - _certainty(np.clip(weights @ self._chance_yes.T, 0.0, 1.0))

    def expected_variance(self, weights: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return the variance expected after each question, summed over the wanted values.

        Parameters
        ----------
        weights : ndarray of shape (..., K)
            Weights of the combinations, summing to 1.

        Returns
        -------
        ndarray of shape (..., N)
            In the square of the values' unit.

        Raises
        ------
        ValueError
            If the table was made without values.
        """
        if self._values is None:
            msg = "values must be given for expected_variance, got None"
            raise ValueError(msg)
        weights = self._felt(weights)
        yes = weights @ self._chance_yes.T
        left = np.zeros_like(yes)
        for value in self._values:
            # About the mean: single precision would lose the variance beside the square of it.
            mean = weights @ value
            weighted = weights * (value - mean[..., None]).astype(weights.dtype)
            square = (weighted * (value - mean[..., None])).sum(axis=-1)
            sum_yes = weighted @ self._chance_yes.T
            # The mean about itself is 0, so that both answers' sums differ in sign alone.
            left += square[..., None] - sum_yes**2 / np.maximum(yes * (1.0 - yes), _TINY)
        return left

    def _felt(self, weights: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return weights in the table's precision; those too small to be felt are 0, for speed."""
        felt = np.where(weights < _TINY, 0.0, weights)
        return felt.astype(self._chance_yes.dtype, copy=False)


def bayes(
    weights: NDArray[np.floating], chance_yes: NDArray[np.floating], *, is_yes: bool
) -> NDArray[np.floating]:
    """Return the weights of the combinations after an answer.

    Parameters
    ----------
    weights, chance_yes : ndarray of shape (K,)
        Weights before it, and each combination's chance of yes to this question.
    is_yes : bool
        The answer.

    Raises
    ------
    ValueError
        If no combination could have given this answer.
    """
    after = weights * (chance_yes if is_yes else 1.0 - chance_yes)
    total = after.sum()
    if not total > 0.0:
        msg = f"chance_yes must leave some chance to the answer is_yes = {is_yes}, got none"
        raise ValueError(msg)
    return np.asarray(after / total)


def _certainty(chance: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return c ln c + (1 - c) ln(1 - c), 0 at both ends."""
    both = np.stack([chance, 1.0 - chance])
    logs = np.log(both, out=np.zeros_like(both), where=both > 0.0)
    return np.asarray((both * logs).sum(axis=0))

"""Many answers as columns: what scoring and progress are computed from."""

from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

from larvasight.sheet import Content

# A content's place here is its code in ``AnswerTable.content``; append only.
CONTENT_CODES: tuple[Content, ...] = tuple(Content)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerTable:
    """Final answers of one learner, oldest first; all columns of shape (N,).

    Attributes
    ----------
    answered_utc_ms : ndarray, int64
        Milliseconds since 1970-01-01 UTC.
    content : ndarray, int8
        Index into ``CONTENT_CODES``.
    age_h, looks_age_h : ndarray, float64
        True age and the age it looks; NaN where there is none.
    is_plain : ndarray, bool
        False where wall or frame hide too much: never counted.
    taken : ndarray, bool
        Answered "take".
    response_ms : ndarray, float64
        NaN for a cell that was never touched.
    young_h, old_h : ndarray, float64
        Usable span in force when the answer was given.
    is_measuring : ndarray, bool
        Given where the line was measured, on ages that are hard on purpose: it tells of the line,
        and not of the share of right picks. All false where it is left out.
    """

    answered_utc_ms: NDArray[np.int64]
    content: NDArray[np.int8]
    age_h: NDArray[np.float64]
    looks_age_h: NDArray[np.float64]
    is_plain: NDArray[np.bool_]
    taken: NDArray[np.bool_]
    response_ms: NDArray[np.float64]
    young_h: NDArray[np.float64]
    old_h: NDArray[np.float64]
    is_measuring: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))

    def __post_init__(self) -> None:
        """Refuse columns of different lengths."""
        if not len(self.is_measuring):
            object.__setattr__(self, "is_measuring", np.zeros(len(self.content), dtype=np.bool_))
        lengths = {f.name: len(getattr(self, f.name)) for f in fields(self)}
        if len(set(lengths.values())) > 1:
            msg = f"all columns must have one length, got {lengths}"
            raise ValueError(msg)

    def __len__(self) -> int:
        """Return the number of answers."""
        return len(self.content)

"""How a constant taken from biology or practice carries its source."""

from dataclasses import dataclass
from enum import StrEnum


class Label(StrEnum):
    """How far a value can be trusted."""

    PUBLISHED = "published"
    DERIVED = "derived"
    COMMON_PRACTICE = "common practice"
    FROM_MEMORY = "from memory"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One constant with its unit, label and source.

    ``source`` names the publication for ``PUBLISHED``, says how for ``DERIVED``,
    and is empty for ``COMMON_PRACTICE``, which has none.
    """

    name: str
    value: float
    unit: str
    label: Label
    source: str = ""

    def __post_init__(self) -> None:
        """Refuse a value whose source is missing."""
        if not self.source and self.label is not Label.COMMON_PRACTICE:
            msg = f"{self.name} is labelled {self.label} and needs a source"
            raise ValueError(msg)

"""Which stages a learner takes for which, in words."""

from larvasight.practice.stages import Stage, StageTable

# Too few cells named to say anything of confusions.
NAMED_LEAST = 20
STAGES_TITLE = "Which stages you mix up"
STAGE_AS: dict[Stage, str] = {
    Stage.EGG: "an egg",
    Stage.JUST_HATCHED: "just hatched",
    Stage.RIGHT_AGE: "of the right age",
    Stage.CLOSED_C: "a closed C",
    Stage.TOO_OLD: "far too old",
}
_ONE: dict[Stage, str] = {
    Stage.EGG: "an egg",
    Stage.JUST_HATCHED: "one just hatched",
    Stage.RIGHT_AGE: "one of the right age",
    Stage.CLOSED_C: "a closed C",
    Stage.TOO_OLD: "one far too old",
}


def is_told(table: StageTable) -> bool:
    """Return whether enough cells were named to tell of confusions."""
    return int(table.counts.sum()) >= NAMED_LEAST


def mixed_sentence(table: StageTable) -> str:
    """Return the commonest mistake with its count; nothing where there was none."""
    if table.most_mixed is None:
        return ""
    true, named = table.most_mixed
    n = int(table.counts[true, named])
    often = {1: "once", 2: "twice"}.get(n, f"{n} times")
    return f"Most often you called {_ONE[true]} {STAGE_AS[named]}: {often}."


def named_sentence(table: StageTable) -> str:
    """Return how many cells were named rightly, and the commonest mistake."""
    n, n_right = int(table.counts.sum()), int(table.counts.trace())
    if n_right == n:
        return f"All of the latest {n} cells were named rightly."
    return f"Of the latest {n} cells you named {n_right} rightly. {mixed_sentence(table)}"

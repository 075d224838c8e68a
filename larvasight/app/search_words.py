"""What the page of Search a comb side says."""

from larvasight.desk.searching import SearchTold
from larvasight.paper.report_words import Figure
from larvasight.practice.searching import LEVEL_WORDS, N_CUPS, SearchLevel

KEYS = (
    "Drag the comb, or use the arrow keys, Page Up, Page Down, Home and End. Click a larva, or "
    "press Space, to take it; Z puts the last one back."
)
COVER = "On a real comb keep what you are not working on under a damp warm cloth: larvae dry fast."


def level_words(level: SearchLevel) -> str:
    """Say how hard this search is."""
    return f"This side: {LEVEL_WORDS[level]}."


def cups_words(n_taken: int) -> str:
    """Say how many cups are filled."""
    return f"{n_taken} of {N_CUPS} cups filled"


def time_words(minutes: float) -> str:
    """Return a time in minutes and seconds."""
    whole_s = int(60.0 * minutes)
    return f"{whole_s // 60}\N{NO-BREAK SPACE}min {whole_s % 60:02d}\N{NO-BREAK SPACE}s"


def told_title(told: SearchTold) -> str:
    """Say in one line how a search went."""
    searched = told.searched
    if told.n_taken == 0:
        return "You took none."
    if searched.n_picks == 0:
        return "You took none that counts."
    if searched.n_right == searched.n_picks:
        many = "The one" if searched.n_picks == 1 else f"All {searched.n_picks}"
        verb = "was" if searched.n_picks == 1 else "were"
        return f"{many} you took {verb} young enough."
    which = "that count" if searched.n_picks < told.n_taken else "you took"
    return f"{searched.n_right} of {searched.n_picks} {which} were young enough."


def told_figures(told: SearchTold) -> tuple[Figure, ...]:
    """Return the figures of a search: share right, pace, ground in vain, time."""
    searched = told.searched
    figures = []
    if searched.right_share is not None:
        figures.append(Figure(value=f"{100.0 * searched.right_share:.0f} %", words="right picks"))
        figures.append(
            Figure(value=f"{searched.right_per_min:.1f}", words="right picks in a minute")
        )
    if told.vain_share is not None:
        figures.append(
            Figure(
                value=f"{100.0 * told.vain_share:.0f} %",
                words="of your way went over comb with nothing to take",
            )
        )
    figures.append(Figure(value=time_words(searched.minutes), words="out of the hive"))
    return tuple(figures)


def told_remarks(told: SearchTold) -> str:
    """Say what was wrong, what is not counted, and what to do otherwise next time."""
    wrong = _listed(
        (told.n_too_old, "too old"),
        (told.n_egg, "egg" if told.n_egg == 1 else "eggs"),
        (told.n_no_larva, "without a larva"),
    )
    said = [f"Wrong: {wrong}."] if wrong else []
    if told.n_very_young:
        said.append(f"{told.n_very_young} very young: good, but hard to lift.")
    if told.n_past:
        said.append(f"Not counted: {told.n_past} just past the limit.")
    if told.n_hidden:
        half = "1 was half hidden" if told.n_hidden == 1 else f"{told.n_hidden} were half hidden"
        said.append(f"{half}, not counted: leave what you cannot tell.")
    if told.n_dry:
        lay = "1 of them lies" if told.n_dry == 1 else f"{told.n_dry} of them lie"
        said.append(
            f"{lay} on hardly any jelly. Take those well fed first: hungry ones are accepted less."
        )
    if told.n_taken < N_CUPS:
        said.append(_left_words(told))
    return " ".join([*said, COVER])


def next_words(told: SearchTold) -> str:
    """Say how hard the next search will be, and why if it changes."""
    level = LEVEL_WORDS[told.next_level]
    if told.next_level > told.searched.level:
        return f"Sure and quick twice in a row. The next side: {level}."
    if told.next_level < told.searched.level:
        return f"Many were wrong, so the next side is easier: {level}."
    return f"The next side: {level}."


def _left_words(told: SearchTold) -> str:
    """Say how many right ones were left on a side whose bar was not filled."""
    if told.n_seen_left == 0:
        return f"{told.n_never_seen} right ones lay where you did not look."
    left = f"You saw {told.n_seen_left} right ones and left them"
    if told.n_never_seen:
        return f"{left}; {told.n_never_seen} more lay where you did not look."
    return f"{left}."


def _listed(*counted: tuple[int, str]) -> str:
    return ", ".join(f"{n} {words}" for n, words in counted if n)

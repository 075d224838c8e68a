"""Let the next combs be laid by what a learner's answers tell."""

from contextlib import suppress

from larvasight.app.context import Context
from larvasight.desk.recommending import Standing, standing_of
from larvasight.desk.reporting import local_zone
from larvasight.errors import LarvasightError
from larvasight.practice import DRILLS


def take_aim(context: Context, *, has_looked: bool = False) -> Standing:
    """Lay the next combs by the answers so far; return where the learner stands.

    ``has_looked`` says whether "What to look for" was opened in this sitting.

    Where the records cannot be read nothing is lost: combs are laid as for a beginner.
    """
    learner, standing = context.learner, Standing(edges=None, drills=DRILLS, why="")
    if learner is not None:
        with suppress(LarvasightError):
            standing = standing_of(
                context.store,
                learner.id,
                now=context.now(),
                tz=local_zone(),
                has_looked=has_looked,
            )
    context.supply.aim_at(standing.edges)
    return standing

"""The age chart for the wall: which cells stand on it."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from larvasight import __version__
from larvasight.desk.look_for import age_row
from larvasight.grading import Limits
from larvasight.render.tiles import TileLibrary

if TYPE_CHECKING:
    from larvasight.paper.age_chart import AgeChart
    from larvasight.paper.age_chart_parts import Page

# Light from all round on new comb: pale bodies on an even ground, which prints best, without colour
# too. The seed was chosen by looking.
CHART_SETTING = "ring-new-both"
CHART_SEED = 750


def age_chart(
    library: TileLibrary,
    limits: Limits,
    *,
    made_on: date,
    setting: str = CHART_SETTING,
    seed: int = CHART_SEED,
) -> "AgeChart":
    """Return a chart of the age row: the same for the same seed.

    Parameters
    ----------
    library : TileLibrary
        Where cells come from.
    limits : Limits
        The ages that are wanted.
    made_on : date
        The day it is made.
    setting : str
        One of the library's settings; ValueError for another.
    seed : int
        Chooses among cells that show a stage equally well.

    Raises
    ------
    AssetMissingError
        If the picture of a cell is missing.
    """
    from larvasight.paper.age_chart import AgeChart  # Qt only when it is wanted
    from larvasight.paper.age_chart_parts import ChartCell

    row = age_row(library, setting, np.random.default_rng(seed))
    cells = tuple(
        ChartCell(
            title=stage.title,
            looks=stage.looks,
            age_h=tile.age_h,
            pixels=library.pixels(tile),
            pitch_px=tile.pitch_px,
        )
        for stage, tile in row
        if tile.age_h is not None
    )
    return AgeChart(cells=cells, limits=limits, made_on=made_on, program_version=__version__)


def save_chart(
    path: Path,
    limits: Limits,
    *,
    page: "Page",
    made_on: date,
    library: TileLibrary | None = None,
) -> None:
    """Write the age chart as PDF.

    Parameters
    ----------
    path : Path
        File to write.
    limits : Limits
        The ages that are wanted.
    page : Page
        The paper it is printed on.
    made_on : date
        The day it is made.
    library : TileLibrary or None
        Where cells come from, None for those that come with the program.

    Raises
    ------
    AssetMissingError
        If the pictures that come with the program are missing.
    OutputFolderError
        If the file cannot be written; nothing half-written is left.
    """
    from larvasight.paper.age_chart import save_age_chart

    chart = age_chart(library or TileLibrary.load(), limits, made_on=made_on)
    save_age_chart(path, chart, page=page)

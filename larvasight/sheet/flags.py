"""Flags a measurement can carry, each with one sentence for the learner."""

from enum import StrEnum


class Flag(StrEnum):
    """A reason to trust a value less, or why it is missing.

    ``TILTED``, ``DISTANCE_ASSUMED`` and ``PITCH_DOUBTFUL`` describe a whole
    picture and stand on the sheet's lattice; the others stand on a cell.
    """

    BLURRED = "blurred"
    GLARE = "glare"
    LOW_CONTRAST = "low-contrast"
    TOO_SMALL = "too-small"
    HIDDEN_BY_WALL = "hidden-by-wall"
    CUT_BY_FRAME = "cut-by-frame"
    OUTLINE_UNCERTAIN = "outline-uncertain"
    CLOSED = "closed"
    TILTED = "tilted"
    DISTANCE_ASSUMED = "distance-assumed"
    PITCH_DOUBTFUL = "pitch-doubtful"


FLAG_SENTENCES: dict[Flag, str] = {
    Flag.BLURRED: "The picture is out of focus or shaken here.",
    Flag.GLARE: "A bright reflection covers part of this cell.",
    Flag.LOW_CONTRAST: "Body and surroundings look almost alike here.",
    Flag.TOO_SMALL: "There are too few picture points in this cell; go closer with the camera.",
    Flag.HIDDEN_BY_WALL: "The cell wall hides too much; look straight down the cell.",
    Flag.CUT_BY_FRAME: "The edge of the picture cuts this cell.",
    Flag.OUTLINE_UNCERTAIN: "The outline of the body could not be told surely.",
    Flag.CLOSED: "The body lies as a closed ring, so its curl cannot be measured.",
    Flag.TILTED: "The comb was photographed at an angle; look straight down the cells.",
    Flag.DISTANCE_ASSUMED: (
        "The camera distance is not known; about 200 mm was assumed for the lengths."
    ),
    Flag.PITCH_DOUBTFUL: "The cell size assumed for this comb may be wrong; lay a ruler on it.",
}

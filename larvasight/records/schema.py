"""The tables. A change here needs a new script in ``migrations/versions``."""

from collections.abc import Iterable
from typing import get_args

from sqlalchemy import (
    BLOB,
    INTEGER,
    REAL,
    TEXT,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    MetaData,
    Table,
    text,
)

from larvasight.grafts import (
    ALTERNATING,
    CUPS_MAX,
    DATED,
    AgeBand,
    Fate,
    Feeding,
    Stage,
    Times,
    Tool,
)
from larvasight.practice import Answer, Feedback
from larvasight.records.types import RoundKind
from larvasight.sheet import Content, Jelly

metadata = MetaData()


def _one_of(column: str, kinds: Iterable[str]) -> CheckConstraint:
    values = ", ".join(f"'{kind!s}'" for kind in kinds)
    return CheckConstraint(f"{column} IN ({values})")


def _yes_or_no(column: str) -> CheckConstraint:
    return CheckConstraint(f"{column} IN (0, 1)")


def _a_day(column: str) -> CheckConstraint:
    return CheckConstraint(f"{column} GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'")


learner = Table(
    "learner",
    metadata,
    Column("id", TEXT, primary_key=True),
    Column("name", TEXT, nullable=False),
    # The name with case and spelling variants folded: two learners cannot share one.
    Column("name_key", TEXT, nullable=False, unique=True),
    Column("created_utc_ms", INTEGER, nullable=False),
    CheckConstraint("length(name) BETWEEN 1 AND 60"),
    sqlite_strict=True,
)

comb_round = Table(
    "comb_round",
    metadata,
    Column("id", TEXT, primary_key=True),
    Column("learner_id", TEXT, ForeignKey("learner.id", ondelete="CASCADE"), nullable=False),
    Column("drill", TEXT, nullable=False),
    Column("feedback", TEXT, nullable=False),
    Column("kind", TEXT, nullable=False),
    Column("recipe", TEXT, nullable=False),
    Column("shown_utc_ms", INTEGER, nullable=False),
    Column("ended_utc_ms", INTEGER),
    _one_of("feedback", Feedback),
    _one_of("kind", get_args(RoundKind)),
    Index("ix_comb_round_learner", "learner_id", "shown_utc_ms"),
    sqlite_strict=True,
)

# One row for every cell shown, answered or not, telling all by itself.
shown_cell = Table(
    "shown_cell",
    metadata,
    Column("id", TEXT, primary_key=True),
    Column("round_id", TEXT, ForeignKey("comb_round.id", ondelete="CASCADE"), nullable=False),
    Column("learner_id", TEXT, ForeignKey("learner.id", ondelete="CASCADE"), nullable=False),
    Column("drill", TEXT, nullable=False),
    Column("row", INTEGER, nullable=False),
    Column("col", INTEGER, nullable=False),
    Column("position", INTEGER, nullable=False),
    Column("tile_id", TEXT),
    Column("content", TEXT, nullable=False),
    Column("age_h", REAL),
    Column("looks_age_h", REAL),
    Column("length_mm", REAL),
    Column("curl_deg", REAL),
    Column("jelly", TEXT),
    Column("is_plain", INTEGER, nullable=False),
    Column("answer", TEXT),
    Column("response_ms", INTEGER),
    Column("is_final", INTEGER, nullable=False),
    Column("feedback", TEXT, nullable=False),
    Column("young_h", REAL, nullable=False),
    Column("best_young_h", REAL, nullable=False),
    Column("best_old_h", REAL, nullable=False),
    Column("old_h", REAL, nullable=False),
    Column("program_version", TEXT, nullable=False),
    Column("model_version", TEXT),
    Column("shown_utc_ms", INTEGER, nullable=False),
    Column("answered_utc_ms", INTEGER),
    _one_of("content", Content),
    _one_of("jelly", Jelly),
    _one_of("answer", Answer),
    _one_of("feedback", Feedback),
    _yes_or_no("is_plain"),
    _yes_or_no("is_final"),
    CheckConstraint("response_ms >= 0"),
    CheckConstraint("(answer IS NULL) = (answered_utc_ms IS NULL)"),
    CheckConstraint("is_final = 0 OR answer IS NOT NULL"),
    Index("ix_shown_cell_round", "round_id", "position"),
    # All that ``answers`` reads, in the order it reads it, so that the table is not touched.
    # Leaving it out until an answer is final keeps marks cheap to store.
    Index(
        "ix_shown_cell_final",
        "learner_id",
        "answered_utc_ms",
        "position",
        "drill",
        "content",
        "age_h",
        "looks_age_h",
        "is_plain",
        "answer",
        "response_ms",
        "young_h",
        "old_h",
        "is_final",
        sqlite_where=text("is_final = 1"),
    ),
    sqlite_strict=True,
)

# ``scope`` is "class" or a learner's id; ``value`` is JSON.
setting = Table(
    "setting",
    metadata,
    Column("scope", TEXT, primary_key=True),
    Column("key", TEXT, primary_key=True),
    Column("value", TEXT, nullable=False),
    sqlite_strict=True,
)

photo = Table(
    "photo",
    metadata,
    Column("sha256", TEXT, primary_key=True),
    Column("name", TEXT, nullable=False),
    Column("suffix", TEXT, nullable=False),
    Column("added_utc_ms", INTEGER, nullable=False),
    Column("sheet", TEXT),
    # Both name a file: nothing in them may lead to another folder.
    CheckConstraint("length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'"),
    CheckConstraint(
        "length(suffix) BETWEEN 2 AND 6 AND suffix GLOB '.*' "
        "AND substr(suffix, 2) NOT GLOB '*[^0-9a-z]*'"
    ),
    sqlite_strict=True,
)

# What a person says of a cell, beside the photo's sheet and never in it. A cell is known by its
# middle: laid anew, or by another version, the cells of a photo may have other names, also names
# that other marks have. ``line`` and ``outline`` are JSON.
hand_mark = Table(
    "hand_mark",
    metadata,
    Column("id", TEXT, primary_key=True),
    Column("photo_sha256", TEXT, ForeignKey("photo.sha256", ondelete="CASCADE"), nullable=False),
    Column("row", INTEGER, nullable=False),
    Column("col", INTEGER, nullable=False),
    Column("centre_x_px", REAL, nullable=False),
    Column("centre_y_px", REAL, nullable=False),
    Column("content", TEXT),
    Column("line", TEXT),
    Column("outline", TEXT),
    Column("made_utc_ms", INTEGER, nullable=False),
    _one_of("content", Content),
    CheckConstraint("content IS NOT NULL OR line IS NOT NULL OR outline IS NOT NULL"),
    Index("ix_hand_mark_photo", "photo_sha256"),
    sqlite_strict=True,
)

# Where a person says that the cells of a photo lie; ``cells`` is JSON.
hand_lattice = Table(
    "hand_lattice",
    metadata,
    Column("photo_sha256", TEXT, ForeignKey("photo.sha256", ondelete="CASCADE"), primary_key=True),
    Column("kind", TEXT, nullable=False),
    Column("cells", TEXT, nullable=False),
    Column("made_utc_ms", INTEGER, nullable=False),
    _one_of("kind", ("moved", "laid")),
    sqlite_strict=True,
)

# When the queen could lay in the comb of a photo, and when it was taken.
known_age = Table(
    "known_age",
    metadata,
    Column("photo_sha256", TEXT, ForeignKey("photo.sha256", ondelete="CASCADE"), primary_key=True),
    Column("laid_from_utc_ms", INTEGER, nullable=False),
    Column("laid_to_utc_ms", INTEGER, nullable=False),
    Column("taken_utc_ms", INTEGER, nullable=False),
    Column("made_utc_ms", INTEGER, nullable=False),
    CheckConstraint("laid_from_utc_ms < laid_to_utc_ms"),
    CheckConstraint("laid_from_utc_ms <= taken_utc_ms"),
    sqlite_strict=True,
)

# Photos whose cells were checked, to be practised on.
practice_photo = Table(
    "practice_photo",
    metadata,
    Column("photo_sha256", TEXT, ForeignKey("photo.sha256", ondelete="CASCADE"), primary_key=True),
    Column("is_all_checked", INTEGER, nullable=False),
    Column("made_utc_ms", INTEGER, nullable=False),
    _yes_or_no("is_all_checked"),
    sqlite_strict=True,
)

# A lesson with its pictures, whole as the file that goes out. One taken away keeps its row, since
# rounds and results name it.
lesson = Table(
    "lesson",
    metadata,
    Column("id", TEXT, primary_key=True),
    Column("title", TEXT, nullable=False),
    # Whether it is to be practised on here; else it was made here to be handed out.
    Column("is_homework", INTEGER, nullable=False),
    Column("added_utc_ms", INTEGER, nullable=False),
    Column("removed_utc_ms", INTEGER),
    Column("file", BLOB, nullable=False),
    CheckConstraint("length(title) BETWEEN 1 AND 80"),
    _yes_or_no("is_homework"),
    sqlite_strict=True,
)

# A comb planned: ``spec`` is JSON. A plan taken away keeps its row, since batches name it.
comb_plan = Table(
    "comb_plan",
    metadata,
    Column("id", TEXT, primary_key=True),
    Column("name", TEXT, nullable=False),
    Column("made_utc_ms", INTEGER, nullable=False),
    Column("spec", TEXT, nullable=False),
    Column("removed_utc_ms", INTEGER),
    CheckConstraint("length(name) BETWEEN 1 AND 120"),
    sqlite_strict=True,
)

graft_batch = Table(
    "graft_batch",
    metadata,
    Column("id", TEXT, primary_key=True),
    Column("grafted_utc_ms", INTEGER, nullable=False),
    # What the clock of the place was ahead of UTC: the day of grafting follows from both.
    Column("utc_offset_min", INTEGER, nullable=False),
    Column("grafter", TEXT, nullable=False),
    # Grafts belong to the apiary: they outlast the learner who made them.
    Column("learner_id", TEXT, ForeignKey("learner.id", ondelete="SET NULL")),
    Column("plan_id", TEXT, ForeignKey("comb_plan.id", ondelete="SET NULL")),
    Column("breeder", TEXT, nullable=False),
    Column("comb", TEXT, nullable=False),
    Column("tool", TEXT),
    Column("cup_kind", TEXT, nullable=False),
    Column("is_primed", INTEGER),
    Column("feeding", TEXT),
    Column("age_band", TEXT),
    Column("times", TEXT),
    Column("magnification", REAL),
    Column("light", TEXT, nullable=False),
    Column("place", TEXT, nullable=False),
    Column("room_c", REAL),
    Column("humidity_pct", REAL),
    Column("out_min", REAL),
    Column("is_covered", INTEGER),
    Column("is_practice", INTEGER, nullable=False),
    Column("second_factor", TEXT),
    Column("second_value", TEXT),
    Column("notes", TEXT, nullable=False),
    Column("made_utc_ms", INTEGER, nullable=False),
    _one_of("tool", Tool),
    _one_of("feeding", Feeding),
    _one_of("age_band", AgeBand),
    _one_of("times", Times),
    _one_of("second_factor", ALTERNATING),
    _yes_or_no("is_primed"),
    _yes_or_no("is_covered"),
    _yes_or_no("is_practice"),
    CheckConstraint("utc_offset_min BETWEEN -1439 AND 1439"),
    CheckConstraint("(second_factor IS NULL) = (second_value IS NULL)"),
    Index("ix_graft_batch_grafted", "grafted_utc_ms"),
    sqlite_strict=True,
)

# Days are YYYY-MM-DD where the bees are.
graft_cup = Table(
    "graft_cup",
    metadata,
    Column("batch_id", TEXT, ForeignKey("graft_batch.id", ondelete="CASCADE"), primary_key=True),
    Column("number", INTEGER, primary_key=True),
    Column("reached", TEXT, nullable=False),
    Column("fate", TEXT, nullable=False),
    *(Column(f"{stage}_on", TEXT) for stage in DATED),
    CheckConstraint(f"number BETWEEN 1 AND {CUPS_MAX}"),
    _one_of("reached", Stage),
    _one_of("fate", Fate),
    *(_a_day(f"{stage}_on") for stage in DATED),
    sqlite_strict=True,
)

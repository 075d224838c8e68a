"""Plans for combs, and the record of grafts: batches and their cups."""

from textwrap import dedent

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

STATEMENTS = (
    """
    CREATE TABLE comb_plan (
        id TEXT NOT NULL,
        name TEXT NOT NULL,
        made_utc_ms INTEGER NOT NULL,
        spec TEXT NOT NULL,
        removed_utc_ms INTEGER,
        PRIMARY KEY (id),
        CHECK (length(name) BETWEEN 1 AND 120)
    ) STRICT
    """,
    """
    CREATE TABLE graft_batch (
        id TEXT NOT NULL,
        grafted_utc_ms INTEGER NOT NULL,
        utc_offset_min INTEGER NOT NULL,
        grafter TEXT NOT NULL,
        learner_id TEXT,
        plan_id TEXT,
        breeder TEXT NOT NULL,
        comb TEXT NOT NULL,
        tool TEXT,
        cup_kind TEXT NOT NULL,
        is_primed INTEGER,
        feeding TEXT,
        age_band TEXT,
        times TEXT,
        magnification REAL,
        light TEXT NOT NULL,
        place TEXT NOT NULL,
        room_c REAL,
        humidity_pct REAL,
        out_min REAL,
        is_covered INTEGER,
        is_practice INTEGER NOT NULL,
        second_factor TEXT,
        second_value TEXT,
        notes TEXT NOT NULL,
        made_utc_ms INTEGER NOT NULL,
        PRIMARY KEY (id),
        CHECK (tool IN ('rigid', 'flexible', 'brush', 'other')),
        CHECK (feeding IN ('well-fed', 'hungry')),
        CHECK (age_band IN ('under-12-h', '12-24-h', 'over-24-h')),
        CHECK (times IN ('single', 'double')),
        CHECK (second_factor IN ('tool', 'priming', 'feeding', 'age')),
        CHECK (is_primed IN (0, 1)),
        CHECK (is_covered IN (0, 1)),
        CHECK (is_practice IN (0, 1)),
        CHECK (utc_offset_min BETWEEN -1439 AND 1439),
        CHECK ((second_factor IS NULL) = (second_value IS NULL)),
        FOREIGN KEY(learner_id) REFERENCES learner (id) ON DELETE SET NULL,
        FOREIGN KEY(plan_id) REFERENCES comb_plan (id) ON DELETE SET NULL
    ) STRICT
    """,
    """
    CREATE INDEX ix_graft_batch_grafted ON graft_batch (grafted_utc_ms)
    """,
    """
    CREATE TABLE graft_cup (
        batch_id TEXT NOT NULL,
        number INTEGER NOT NULL,
        reached TEXT NOT NULL,
        fate TEXT NOT NULL,
        accepted_on TEXT,
        capped_on TEXT,
        emerged_on TEXT,
        mated_on TEXT,
        laying_on TEXT,
        PRIMARY KEY (batch_id, number),
        CHECK (number BETWEEN 1 AND 100),
        CHECK (reached IN ('grafted', 'accepted', 'capped', 'emerged', 'mated', 'laying')),
        CHECK (fate IN ('open', 'lost', 'given-away')),
        CHECK (accepted_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
        CHECK (capped_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
        CHECK (emerged_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
        CHECK (mated_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
        CHECK (laying_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
        FOREIGN KEY(batch_id) REFERENCES graft_batch (id) ON DELETE CASCADE
    ) STRICT
    """,
)


def upgrade() -> None:
    """Make the tables."""
    for statement in STATEMENTS:
        op.execute(dedent(statement).strip())

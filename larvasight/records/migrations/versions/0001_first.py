"""The first form: learners, rounds, cells shown, settings and photos."""

from textwrap import dedent

from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

STATEMENTS = (
    """
    CREATE TABLE learner (
        id TEXT NOT NULL,
        name TEXT NOT NULL,
        name_key TEXT NOT NULL,
        created_utc_ms INTEGER NOT NULL,
        PRIMARY KEY (id),
        CHECK (length(name) BETWEEN 1 AND 60),
        UNIQUE (name_key)
    ) STRICT
    """,
    """
    CREATE TABLE photo (
        sha256 TEXT NOT NULL,
        name TEXT NOT NULL,
        suffix TEXT NOT NULL,
        added_utc_ms INTEGER NOT NULL,
        sheet TEXT,
        PRIMARY KEY (sha256),
        CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
        CHECK (length(suffix) BETWEEN 2 AND 6 AND suffix GLOB '.*'
            AND substr(suffix, 2) NOT GLOB '*[^0-9a-z]*')
    ) STRICT
    """,
    """
    CREATE TABLE setting (
        scope TEXT NOT NULL,
        "key" TEXT NOT NULL,
        value TEXT NOT NULL,
        PRIMARY KEY (scope, "key")
    ) STRICT
    """,
    """
    CREATE TABLE comb_round (
        id TEXT NOT NULL,
        learner_id TEXT NOT NULL,
        drill TEXT NOT NULL,
        feedback TEXT NOT NULL,
        kind TEXT NOT NULL,
        recipe TEXT NOT NULL,
        shown_utc_ms INTEGER NOT NULL,
        ended_utc_ms INTEGER,
        PRIMARY KEY (id),
        CHECK (feedback IN ('after-each', 'after-comb')),
        CHECK (kind IN ('drawn', 'photo')),
        FOREIGN KEY(learner_id) REFERENCES learner (id) ON DELETE CASCADE
    ) STRICT
    """,
    """
    CREATE INDEX ix_comb_round_learner ON comb_round (learner_id, shown_utc_ms)
    """,
    """
    CREATE TABLE shown_cell (
        id TEXT NOT NULL,
        round_id TEXT NOT NULL,
        learner_id TEXT NOT NULL,
        drill TEXT NOT NULL,
        "row" INTEGER NOT NULL,
        col INTEGER NOT NULL,
        position INTEGER NOT NULL,
        tile_id TEXT,
        content TEXT NOT NULL,
        age_h REAL,
        looks_age_h REAL,
        length_mm REAL,
        curl_deg REAL,
        jelly TEXT,
        is_plain INTEGER NOT NULL,
        answer TEXT,
        response_ms INTEGER,
        is_final INTEGER NOT NULL,
        feedback TEXT NOT NULL,
        young_h REAL NOT NULL,
        best_young_h REAL NOT NULL,
        best_old_h REAL NOT NULL,
        old_h REAL NOT NULL,
        program_version TEXT NOT NULL,
        model_version TEXT,
        shown_utc_ms INTEGER NOT NULL,
        answered_utc_ms INTEGER,
        PRIMARY KEY (id),
        CHECK (content IN
            ('empty', 'egg', 'larva', 'capped', 'stores', 'covered', 'unclear')),
        CHECK (jelly IN ('none', 'little', 'plenty')),
        CHECK (answer IN ('take', 'leave')),
        CHECK (feedback IN ('after-each', 'after-comb')),
        CHECK (is_plain IN (0, 1)),
        CHECK (is_final IN (0, 1)),
        CHECK (response_ms >= 0),
        CHECK ((answer IS NULL) = (answered_utc_ms IS NULL)),
        CHECK (is_final = 0 OR answer IS NOT NULL),
        FOREIGN KEY(round_id) REFERENCES comb_round (id) ON DELETE CASCADE,
        FOREIGN KEY(learner_id) REFERENCES learner (id) ON DELETE CASCADE
    ) STRICT
    """,
    """
    CREATE INDEX ix_shown_cell_final ON shown_cell (
        learner_id, answered_utc_ms, position, drill, content, age_h, looks_age_h,
        is_plain, answer, response_ms, young_h, old_h, is_final
    ) WHERE is_final = 1
    """,
    """
    CREATE INDEX ix_shown_cell_round ON shown_cell (round_id, position)
    """,
)


def upgrade() -> None:
    """Make the tables."""
    for statement in STATEMENTS:
        op.execute(dedent(statement).strip())

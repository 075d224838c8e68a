"""More answers than take or leave, and combs that came in a lesson file."""

from textwrap import dedent

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

# A check cannot be changed: the tables are made anew beside the old ones and take their names.
ROUNDS = """
    CREATE TABLE comb_round_new (
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
        CHECK (kind IN ('drawn', 'photo', 'lesson')),
        FOREIGN KEY(learner_id) REFERENCES learner (id) ON DELETE CASCADE
    ) STRICT
    """
CELLS = """
    CREATE TABLE shown_cell_new (
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
        CHECK (answer IN ('take', 'leave', 'cannot-tell',
            'egg', 'just-hatched', 'right-age', 'closed-c', 'too-old',
            'younger', 'older', 'place-1', 'place-2', 'place-3', 'place-4', 'place-5',
            'hit', 'open-side', 'wall')),
        CHECK (feedback IN ('after-each', 'after-comb')),
        CHECK (is_plain IN (0, 1)),
        CHECK (is_final IN (0, 1)),
        CHECK (response_ms >= 0),
        CHECK ((answer IS NULL) = (answered_utc_ms IS NULL)),
        CHECK (is_final = 0 OR answer IS NOT NULL),
        FOREIGN KEY(round_id) REFERENCES comb_round (id) ON DELETE CASCADE,
        FOREIGN KEY(learner_id) REFERENCES learner (id) ON DELETE CASCADE
    ) STRICT
    """
INDEXES = (
    """
    CREATE INDEX ix_comb_round_learner ON comb_round (learner_id, shown_utc_ms)
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
    """Make both tables anew with all that is in them."""
    for table, statement in (("comb_round", ROUNDS), ("shown_cell", CELLS)):
        op.execute(dedent(statement).strip())
        op.execute(f"INSERT INTO {table}_new SELECT * FROM {table}")
        op.execute(f"DROP TABLE {table}")
        op.execute(f"ALTER TABLE {table}_new RENAME TO {table}")
    for statement in INDEXES:
        op.execute(dedent(statement).strip())

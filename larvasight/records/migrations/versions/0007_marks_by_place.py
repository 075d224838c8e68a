"""Marks by hand belong to places, since cells laid anew may have names that other marks had.

And the outline of a body can be marked.
"""

from textwrap import dedent

from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

# A rule cannot be taken away: the table is made anew beside the old one and takes its name.
STATEMENTS = (
    """
    CREATE TABLE hand_mark_new (
        id TEXT NOT NULL,
        photo_sha256 TEXT NOT NULL,
        "row" INTEGER NOT NULL,
        col INTEGER NOT NULL,
        centre_x_px REAL NOT NULL,
        centre_y_px REAL NOT NULL,
        content TEXT,
        line TEXT,
        outline TEXT,
        made_utc_ms INTEGER NOT NULL,
        PRIMARY KEY (id),
        CHECK (content IN ('empty', 'egg', 'larva', 'capped', 'stores', 'covered', 'unclear')),
        CHECK (content IS NOT NULL OR line IS NOT NULL OR outline IS NOT NULL),
        FOREIGN KEY(photo_sha256) REFERENCES photo (sha256) ON DELETE CASCADE
    ) STRICT
    """,
    """
    INSERT INTO hand_mark_new
    SELECT id, photo_sha256, "row", col, centre_x_px, centre_y_px, content, line, NULL, made_utc_ms
    FROM hand_mark
    """,
    "DROP TABLE hand_mark",
    "ALTER TABLE hand_mark_new RENAME TO hand_mark",
    "CREATE INDEX ix_hand_mark_photo ON hand_mark (photo_sha256)",
)


def upgrade() -> None:
    """Make the table anew, without the rule that a name is marked once."""
    for statement in STATEMENTS:
        op.execute(dedent(statement).strip())

"""Marks by hand: what a person says of a cell of a photo, beside what was measured."""

from textwrap import dedent

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

STATEMENTS = (
    """
    CREATE TABLE hand_mark (
        id TEXT NOT NULL,
        photo_sha256 TEXT NOT NULL,
        "row" INTEGER NOT NULL,
        col INTEGER NOT NULL,
        centre_x_px REAL NOT NULL,
        centre_y_px REAL NOT NULL,
        content TEXT,
        line TEXT,
        made_utc_ms INTEGER NOT NULL,
        PRIMARY KEY (id),
        CHECK (content IN ('empty', 'egg', 'larva', 'capped', 'stores', 'covered', 'unclear')),
        CHECK (content IS NOT NULL OR line IS NOT NULL),
        UNIQUE (photo_sha256, "row", col),
        FOREIGN KEY(photo_sha256) REFERENCES photo (sha256) ON DELETE CASCADE
    ) STRICT
    """,
)


def upgrade() -> None:
    """Make the table."""
    for statement in STATEMENTS:
        op.execute(dedent(statement).strip())

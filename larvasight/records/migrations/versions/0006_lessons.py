"""Lessons: combs that a teacher puts together, to be practised on at home."""

from textwrap import dedent

from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

STATEMENTS = (
    """
    CREATE TABLE lesson (
        id TEXT NOT NULL,
        title TEXT NOT NULL,
        is_homework INTEGER NOT NULL,
        added_utc_ms INTEGER NOT NULL,
        removed_utc_ms INTEGER,
        file BLOB NOT NULL,
        PRIMARY KEY (id),
        CHECK (length(title) BETWEEN 1 AND 80),
        CHECK (is_homework IN (0, 1))
    ) STRICT
    """,
)


def upgrade() -> None:
    """Make the table."""
    for statement in STATEMENTS:
        op.execute(dedent(statement).strip())

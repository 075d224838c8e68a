"""Own combs: cells laid by hand, the known age of a comb, photos that are practised on."""

from textwrap import dedent

from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

STATEMENTS = (
    """
    CREATE TABLE hand_lattice (
        photo_sha256 TEXT NOT NULL,
        kind TEXT NOT NULL,
        cells TEXT NOT NULL,
        made_utc_ms INTEGER NOT NULL,
        PRIMARY KEY (photo_sha256),
        CHECK (kind IN ('moved', 'laid')),
        FOREIGN KEY(photo_sha256) REFERENCES photo (sha256) ON DELETE CASCADE
    ) STRICT
    """,
    """
    CREATE TABLE known_age (
        photo_sha256 TEXT NOT NULL,
        laid_from_utc_ms INTEGER NOT NULL,
        laid_to_utc_ms INTEGER NOT NULL,
        taken_utc_ms INTEGER NOT NULL,
        made_utc_ms INTEGER NOT NULL,
        PRIMARY KEY (photo_sha256),
        CHECK (laid_from_utc_ms < laid_to_utc_ms),
        CHECK (laid_from_utc_ms <= taken_utc_ms),
        FOREIGN KEY(photo_sha256) REFERENCES photo (sha256) ON DELETE CASCADE
    ) STRICT
    """,
    """
    CREATE TABLE practice_photo (
        photo_sha256 TEXT NOT NULL,
        is_all_checked INTEGER NOT NULL,
        made_utc_ms INTEGER NOT NULL,
        PRIMARY KEY (photo_sha256),
        CHECK (is_all_checked IN (0, 1)),
        FOREIGN KEY(photo_sha256) REFERENCES photo (sha256) ON DELETE CASCADE
    ) STRICT
    """,
)


def upgrade() -> None:
    """Make the tables."""
    for statement in STATEMENTS:
        op.execute(dedent(statement).strip())

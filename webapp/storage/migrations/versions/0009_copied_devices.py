"""Devices of which there are two copies: their numbers met, and each is told to take a new id."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add when it was noticed; of devices whose numbers met already, when they were heard of last."""
    op.add_column("devices", sa.Column("copied_at", sa.DateTime(timezone=True)))
    op.execute(
        "UPDATE devices SET copied_at = last_sync_at WHERE EXISTS ("
        "SELECT 1 FROM entries WHERE entries.organisation_id = devices.organisation_id "
        "AND entries.author_id = devices.user_id AND entries.device_id = devices.id "
        "GROUP BY entries.device_seq HAVING COUNT(*) > 1)"
    )


def downgrade() -> None:
    """Remove it."""
    op.drop_column("devices", "copied_at")

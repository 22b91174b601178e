"""Devices that the service has withdrawn."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the moment of withdrawal; devices known before stay in service."""
    op.add_column("devices", sa.Column("revoked_at", sa.DateTime(timezone=True)))


def downgrade() -> None:
    """Forget which devices were withdrawn."""
    op.drop_column("devices", "revoked_at")

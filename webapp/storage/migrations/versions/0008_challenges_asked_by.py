"""Who asked for a passkey challenge, so that nobody is given any number of them."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; challenges that were given out before name nobody and end within minutes."""
    op.add_column("passkey_challenges", sa.Column("asked_by", sa.String(64)))
    op.create_index("ix_passkey_challenges_asked_by", "passkey_challenges", ["asked_by"])


def downgrade() -> None:
    """Remove it."""
    op.drop_index("ix_passkey_challenges_asked_by", "passkey_challenges")
    op.drop_column("passkey_challenges", "asked_by")

"""What is left of erased clients, the legal hold that stops an erasure, how long records are kept."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables and the columns; nothing is held and nothing has a term."""
    op.add_column("clients", sa.Column("held_since", sa.DateTime(timezone=True)))
    op.add_column("organisations", sa.Column("retention_years", sa.Integer()))
    op.create_table(
        "tombstones",
        uuid("organisation_id"),
        uuid("client_id"),
        sa.Column("erased_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ground", sa.String(40), nullable=False),
        uuid("erased_by", True),
        to_organisation("tombstones"),
        sa.PrimaryKeyConstraint("organisation_id", "client_id", name="pk_tombstones"),
    )
    op.create_table(
        "erased_entries",
        uuid("organisation_id"),
        sa.Column("id_hash", sa.String(64), nullable=False),
        uuid("client_id"),
        uuid("author_id", True),
        uuid("device_id", True),
        sa.Column("device_seq", sa.BigInteger()),
        to_organisation("erased_entries"),
        sa.PrimaryKeyConstraint("organisation_id", "id_hash", name="pk_erased_entries"),
    )
    columns = ["organisation_id", "author_id", "device_id"]
    op.create_index("ix_erased_entries_" + "_".join(columns), "erased_entries", columns)


def downgrade() -> None:
    """Forget what was erased."""
    for table in ("erased_entries", "tombstones"):
        op.drop_table(table)
    op.drop_column("organisations", "retention_years")
    op.drop_column("clients", "held_since")


def uuid(name: str, nullable: bool = False) -> sa.Column:
    """A column of UUIDs."""
    return sa.Column(name, sa.Uuid(as_uuid=False), nullable=nullable)


def to_organisation(table: str) -> sa.ForeignKeyConstraint:
    """The reference of a table to its organisation."""
    return sa.ForeignKeyConstraint(
        ["organisation_id"], ["organisations.id"], name=f"fk_{table}_organisation_id_organisations"
    )

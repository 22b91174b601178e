"""Passkeys and their challenges, links to a new password, the name a person gives to a device."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables and the column; nobody has a passkey, no device has a name of its person's."""
    op.add_column("devices", sa.Column("own_name", sa.String(80)))
    op.create_table(
        "passkeys",
        uuid("organisation_id"),
        sa.Column("credential_hash", sa.String(64), nullable=False),
        uuid("user_id"),
        sa.Column("credential_id", sa.Text(), nullable=False),
        sa.Column("public_key", sa.LargeBinary(), nullable=False),
        sa.Column("sign_count", sa.BigInteger(), nullable=False),
        sa.Column("backed_up", sa.Boolean(), nullable=False),
        sa.Column("name", sa.String(80), nullable=False),
        instant("created_at"),
        instant("last_used_at", True),
        *of_user("passkeys", "credential_hash"),
    )
    op.create_index("ix_passkeys_organisation_id_user_id", "passkeys", ["organisation_id", "user_id"])
    op.create_table(
        "passkey_challenges",
        sa.Column("challenge_hash", sa.String(64), nullable=False),
        uuid("user_id", True),
        instant("expires_at"),
        sa.PrimaryKeyConstraint("challenge_hash", name="pk_passkey_challenges"),
    )
    op.create_index("ix_passkey_challenges_expires_at", "passkey_challenges", ["expires_at"])
    op.create_table(
        "password_links",
        uuid("organisation_id"),
        sa.Column("token_hash", sa.String(64), nullable=False),
        uuid("user_id"),
        instant("created_at"),
        instant("expires_at"),
        instant("ended_at", True),
        *of_user("password_links", "token_hash"),
    )
    op.create_index(
        "ix_password_links_organisation_id_user_id", "password_links", ["organisation_id", "user_id"]
    )


def downgrade() -> None:
    """Forget them: passwords are left, and the names that devices give themselves."""
    for table in ("password_links", "passkey_challenges", "passkeys"):
        op.drop_table(table)
    op.drop_column("devices", "own_name")


def uuid(name: str, nullable: bool = False) -> sa.Column:
    """A column of UUIDs."""
    return sa.Column(name, sa.Uuid(as_uuid=False), nullable=nullable)


def instant(name: str, nullable: bool = False) -> sa.Column:
    """A column of moments."""
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def of_user(table: str, key: str) -> tuple[sa.Constraint, ...]:
    """The constraints of a table whose rows are a user's and are found by a hash alone."""
    return (
        sa.ForeignKeyConstraint(
            ["organisation_id", "user_id"],
            ["users.organisation_id", "users.id"],
            name=f"fk_{table}_organisation_id_user_id_users",
        ),
        sa.PrimaryKeyConstraint("organisation_id", key, name=f"pk_{table}"),
        sa.UniqueConstraint(key, name=f"uq_{table}_{key}"),
    )

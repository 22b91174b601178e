"""The log, the people who write it, their devices and their caseloads."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

ROLES = "role IN ('therapist', 'supervisor', 'administrator')"


def upgrade() -> None:
    """Create every table, the ones others refer to first."""
    create_people()
    create_clients()
    create_devices()
    create_entries()
    create_holding()


def downgrade() -> None:
    """Drop every table, the ones that refer to others first."""
    for table in (
        "holding",
        "entries",
        "devices",
        "caseload",
        "clients",
        "sessions",
        "users",
        "sign_in_attempts",
        "organisations",
    ):
        op.drop_table(table)


def create_people() -> None:
    """Organisations, users, sessions and the counters of failed sign-ins."""
    op.create_table(
        "organisations",
        uuid("id"),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("head", sa.BigInteger(), nullable=False),
        uuid("epoch"),
        sa.Column("settings", sa.JSON(), nullable=False),
        instant("created_at"),
        sa.PrimaryKeyConstraint("id", name="pk_organisations"),
    )
    op.create_table(
        "users",
        uuid("organisation_id"),
        uuid("id"),
        sa.Column("sign_in_name", sa.String(200), nullable=False),
        sa.Column("display_name", sa.String(200), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("password_hash", sa.String(255), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        instant("created_at"),
        sa.CheckConstraint(ROLES, name=op.f("ck_users_role")),
        to_organisation("users"),
        sa.PrimaryKeyConstraint("organisation_id", "id", name="pk_users"),
        sa.UniqueConstraint("sign_in_name", name="uq_users_sign_in_name"),
    )
    op.create_table(
        "sessions",
        uuid("organisation_id"),
        sa.Column("token_hash", sa.String(64), nullable=False),
        uuid("user_id"),
        instant("created_at"),
        instant("seen_at"),
        instant("expires_at"),
        instant("revoked_at", True),
        within("sessions", "user_id", "users"),
        sa.PrimaryKeyConstraint("organisation_id", "token_hash", name="pk_sessions"),
        sa.UniqueConstraint("token_hash", name="uq_sessions_token_hash"),
    )
    op.create_index("ix_sessions_organisation_id_user_id", "sessions", ["organisation_id", "user_id"])
    op.create_table(
        "sign_in_attempts",
        sa.Column("key", sa.String(64), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        instant("last_at"),
        instant("blocked_until", True),
        sa.PrimaryKeyConstraint("key", name="pk_sign_in_attempts"),
    )


def create_clients() -> None:
    """Clients and caseloads; a client is on one user's caseload at most once at a time."""
    op.create_table(
        "clients",
        uuid("organisation_id"),
        uuid("id"),
        instant("created_at"),
        to_organisation("clients"),
        sa.PrimaryKeyConstraint("organisation_id", "id", name="pk_clients"),
    )
    op.create_table(
        "caseload",
        uuid("organisation_id"),
        uuid("user_id"),
        uuid("client_id"),
        instant("since"),
        instant("until", True),
        within("caseload", "client_id", "clients"),
        within("caseload", "user_id", "users"),
        sa.PrimaryKeyConstraint("organisation_id", "user_id", "client_id", "since", name="pk_caseload"),
    )
    op.create_index(
        "ix_caseload_open",
        "caseload",
        ["organisation_id", "user_id", "client_id"],
        unique=True,
        sqlite_where=sa.text("until IS NULL"),
        postgresql_where=sa.text("until IS NULL"),
    )


def create_devices() -> None:
    """Devices as each user uses them."""
    op.create_table(
        "devices",
        uuid("organisation_id"),
        uuid("user_id"),
        uuid("id"),
        sa.Column("name", sa.String(80), nullable=False),
        sa.Column("build", sa.String(80), nullable=False),
        instant("last_sync_at"),
        sa.Column("unsent", sa.BigInteger(), nullable=False),
        sa.Column("last_device_seq", sa.BigInteger(), nullable=False),
        within("devices", "user_id", "users"),
        sa.PrimaryKeyConstraint("organisation_id", "user_id", "id", name="pk_devices"),
    )


def create_entries() -> None:
    """The log itself."""
    op.create_table(
        "entries",
        uuid("organisation_id"),
        uuid("id"),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("kind", sa.String(64), nullable=False),
        sa.Column("schema", sa.Integer(), nullable=False),
        uuid("client_id"),
        uuid("visit_id", True),
        uuid("author_id"),
        uuid("device_id"),
        sa.Column("device_seq", sa.BigInteger(), nullable=False),
        sa.Column("recorded_at", sa.String(24), nullable=False),
        sa.Column("utc_offset", sa.Integer(), nullable=False),
        uuid("amends", True),
        uuid("voids", True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("body", sa.Text(), nullable=False),
        instant("received_at"),
        to_organisation("entries"),
        within("entries", "client_id", "clients"),
        within("entries", "author_id", "users"),
        within("entries", "amends", "entries"),
        within("entries", "voids", "entries"),
        sa.PrimaryKeyConstraint("organisation_id", "id", name="pk_entries"),
        sa.UniqueConstraint("organisation_id", "seq", name="uq_entries_organisation_id_seq"),
    )
    op.create_index(
        "ix_entries_organisation_id_client_id_seq", "entries", ["organisation_id", "client_id", "seq"]
    )
    op.create_index(
        "ix_entries_organisation_id_author_id_device_id_device_seq",
        "entries",
        ["organisation_id", "author_id", "device_id", "device_seq"],
    )


def create_holding() -> None:
    """What was pushed and could not be taken, kept with its reason."""
    op.create_table(
        "holding",
        uuid("organisation_id"),
        uuid("user_id"),
        sa.Column("raw_hash", sa.String(64), nullable=False),
        uuid("entry_id", True),
        uuid("device_id"),
        sa.Column("verdict", sa.String(10), nullable=False),
        sa.Column("code", sa.String(64), nullable=False),
        sa.Column("field", sa.String(200), nullable=True),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        instant("received_at"),
        instant("settled_at", True),
        within("holding", "user_id", "users"),
        sa.PrimaryKeyConstraint("organisation_id", "user_id", "raw_hash", name="pk_holding"),
    )
    op.create_index("ix_holding_organisation_id_entry_id", "holding", ["organisation_id", "entry_id"])


def uuid(name: str, nullable: bool = False) -> sa.Column:
    """A column of UUIDs."""
    return sa.Column(name, sa.Uuid(as_uuid=False), nullable=nullable)


def instant(name: str, nullable: bool = False) -> sa.Column:
    """A column of moments."""
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def to_organisation(table: str) -> sa.ForeignKeyConstraint:
    """The reference of a table to its organisation."""
    return sa.ForeignKeyConstraint(
        ["organisation_id"], ["organisations.id"], name=f"fk_{table}_organisation_id_organisations"
    )


def within(table: str, column: str, target: str) -> sa.ForeignKeyConstraint:
    """A reference to a row of the same organisation, and of no other."""
    return sa.ForeignKeyConstraint(
        ["organisation_id", column],
        [f"{target}.organisation_id", f"{target}.id"],
        name=f"fk_{table}_organisation_id_{column}_{target}",
    )

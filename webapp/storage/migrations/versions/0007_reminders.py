"""Reassessments that are due, and what reminds of them; every client is reckoned once."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_WAITING = sa.text("state = 'waiting'")


def upgrade() -> None:
    """Add the tables. Nobody is reminded yet, and the due dates of everybody are to be reckoned."""
    op.create_table("due_changes", *of_client("due_changes"), instant("reckon_at"))
    op.create_index("ix_due_changes_reckon_at", "due_changes", ["reckon_at"])
    op.create_table(
        "due",
        *of_client("due", sa.Column("rule", sa.String(64), nullable=False)),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=False),
        instant("known_at"),
    )
    make_habits()
    make_subscriptions()
    make_reminders()
    op.create_table(
        "worker_beats",
        uuid("id"),
        instant("started_at"),
        instant("beat_at"),
        sa.Column("counts", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_worker_beats"),
    )
    op.execute(
        "INSERT INTO due_changes (organisation_id, client_id, reckon_at) "
        "SELECT organisation_id, id, created_at FROM clients"
    )


def downgrade() -> None:
    """Forget them: due dates follow from the log again, subscriptions and habits are lost."""
    for table in ("worker_beats", "reminders", "push_subscriptions", "reminder_habits", "due", "due_changes"):
        op.drop_table(table)


def make_habits() -> None:
    """When somebody wants to be reminded."""
    op.create_table(
        "reminder_habits",
        uuid("organisation_id"),
        uuid("user_id"),
        sa.Column("at", sa.String(5), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("days", sa.String(7), nullable=False),
        sa.Column("quiet_from", sa.Date()),
        sa.Column("quiet_until", sa.Date()),
        sa.Column("snoozed_until", sa.Date()),
        instant("reminded_at", True),
        sa.Column("calendar_hash", sa.String(64)),
        sa.Column("calendar_names", sa.Boolean(), nullable=False),
        of_user("reminder_habits"),
        sa.PrimaryKeyConstraint("organisation_id", "user_id", name="pk_reminder_habits"),
        sa.UniqueConstraint("calendar_hash", name="uq_reminder_habits_calendar_hash"),
    )
    by_user("reminder_habits")


def make_subscriptions() -> None:
    """Where somebody takes push messages."""
    op.create_table(
        "push_subscriptions",
        uuid("organisation_id"),
        sa.Column("endpoint_hash", sa.String(64), nullable=False),
        uuid("user_id"),
        sa.Column("endpoint", sa.Text(), nullable=False),
        sa.Column("p256dh", sa.String(100), nullable=False),
        sa.Column("auth", sa.String(40), nullable=False),
        uuid("device_id"),
        instant("created_at"),
        instant("ended_at", True),
        sa.Column("ended_why", sa.String(20)),
        instant("last_sent_at", True),
        of_user("push_subscriptions"),
        sa.PrimaryKeyConstraint("organisation_id", "endpoint_hash", name="pk_push_subscriptions"),
        sa.UniqueConstraint("endpoint_hash", name="uq_push_subscriptions_endpoint_hash"),
    )
    by_user("push_subscriptions")


def make_reminders() -> None:
    """What is to be sent: one waiting for each person."""
    op.create_table(
        "reminders",
        uuid("organisation_id"),
        uuid("id"),
        uuid("user_id"),
        instant("due_at"),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("attempts", sa.BigInteger(), nullable=False),
        sa.Column("sent_to", sa.JSON(), nullable=False),
        sa.Column("lease_by", sa.Uuid(as_uuid=False)),
        instant("lease_until", True),
        instant("settled_at", True),
        sa.Column("code", sa.String(40)),
        of_user("reminders"),
        sa.PrimaryKeyConstraint("organisation_id", "id", name="pk_reminders"),
    )
    where = {"sqlite_where": _WAITING, "postgresql_where": _WAITING}
    op.create_index(
        "ix_reminders_waiting", "reminders", ["organisation_id", "user_id"], unique=True, **where
    )
    op.create_index("ix_reminders_due", "reminders", ["due_at"], **where)


def of_client(table: str, *further: sa.Column) -> tuple[sa.schema.SchemaItem, ...]:
    """The key of a table whose rows are a client's, told apart by a further column."""
    key = ["organisation_id", "client_id", *(column.name for column in further)]
    return (
        uuid("organisation_id"),
        uuid("client_id"),
        *further,
        sa.ForeignKeyConstraint(
            ["organisation_id", "client_id"],
            ["clients.organisation_id", "clients.id"],
            name=f"fk_{table}_organisation_id_client_id_clients",
        ),
        sa.PrimaryKeyConstraint(*key, name=f"pk_{table}"),
    )


def of_user(table: str) -> sa.ForeignKeyConstraint:
    """The reference of a table whose rows are a user's."""
    return sa.ForeignKeyConstraint(
        ["organisation_id", "user_id"],
        ["users.organisation_id", "users.id"],
        name=f"fk_{table}_organisation_id_user_id_users",
    )


def by_user(table: str) -> None:
    """The index by which a user's rows are found."""
    op.create_index(f"ix_{table}_organisation_id_user_id", table, ["organisation_id", "user_id"])


def uuid(name: str) -> sa.Column:
    """A column of UUIDs."""
    return sa.Column(name, sa.Uuid(as_uuid=False), nullable=False)


def instant(name: str, nullable: bool = False) -> sa.Column:
    """A column of moments."""
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)

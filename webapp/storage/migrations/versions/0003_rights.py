"""Teams with members and leads, emergency access, and the device a session is used from."""

import json
from collections import defaultdict

import sqlalchemy as sa
from alembic import op

from webapp.storage.client_keys import keys_of

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

ROLE_CHECK = "ck_users_role"


def upgrade() -> None:
    """Rename a role, add the tables, and write down what each client is found by."""
    rename_role("supervisor", "lead")
    op.add_column("sessions", uuid("device_id", True))
    op.add_column("caseload", sa.Column("emergency", sa.Boolean(), nullable=False, server_default=sa.false()))
    create_teams()
    create_emergency_access()
    fill_client_keys()


def downgrade() -> None:
    """Drop the tables, and give the role its former name."""
    for table in ("emergency_seen", "emergency_access", "client_keys", "team_members", "teams"):
        op.drop_table(table)
    op.drop_column("caseload", "emergency")
    op.drop_column("sessions", "device_id")
    rename_role("lead", "supervisor")


def rename_role(before: str, after: str) -> None:
    """Change a role's name in the rows and in the check; SQLite makes the table anew for it."""
    with op.batch_alter_table("users") as users:
        users.drop_constraint(op.f(ROLE_CHECK), type_="check")
    users = sa.table("users", sa.column("role"))
    op.execute(sa.update(users).where(users.c.role == before).values(role=after))
    with op.batch_alter_table("users") as changed:
        changed.create_check_constraint(
            op.f(ROLE_CHECK), f"role IN ('therapist', '{after}', 'administrator')"
        )


def create_teams() -> None:
    """Teams and who is in them."""
    op.create_table(
        "teams",
        uuid("organisation_id"),
        uuid("id"),
        sa.Column("name", sa.String(200), nullable=False),
        instant("created_at"),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_teams_organisation_id_organisations"
        ),
        sa.PrimaryKeyConstraint("organisation_id", "id", name="pk_teams"),
        sa.UniqueConstraint("organisation_id", "name", name="uq_teams_organisation_id_name"),
    )
    op.create_table(
        "team_members",
        uuid("organisation_id"),
        uuid("team_id"),
        uuid("user_id"),
        sa.Column("part", sa.String(10), nullable=False),
        instant("since"),
        instant("until", True),
        sa.CheckConstraint("part IN ('member', 'lead')", name=op.f("ck_team_members_part")),
        within("team_members", "team_id", "teams"),
        within("team_members", "user_id", "users"),
        sa.PrimaryKeyConstraint(
            "organisation_id", "team_id", "user_id", "part", "since", name="pk_team_members"
        ),
    )
    op.create_index(
        "ix_team_members_open",
        "team_members",
        ["organisation_id", "user_id", "team_id", "part"],
        unique=True,
        sqlite_where=sa.text("until IS NULL"),
        postgresql_where=sa.text("until IS NULL"),
    )


def create_emergency_access() -> None:
    """What clients are found by, who opened a record in an emergency, and which lead has seen it."""
    op.create_table(
        "client_keys",
        uuid("organisation_id"),
        sa.Column("key", sa.String(64), nullable=False),
        uuid("client_id"),
        within("client_keys", "client_id", "clients"),
        sa.PrimaryKeyConstraint("organisation_id", "key", "client_id", name="pk_client_keys"),
    )
    op.create_index(
        "ix_client_keys_organisation_id_client_id", "client_keys", ["organisation_id", "client_id"]
    )
    op.create_table(
        "emergency_access",
        uuid("organisation_id"),
        uuid("id"),
        uuid("user_id"),
        uuid("client_id"),
        instant("since"),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id", "user_id", "client_id", "since"],
            ["caseload.organisation_id", "caseload.user_id", "caseload.client_id", "caseload.since"],
            name="fk_emergency_access_caseload",
        ),
        sa.PrimaryKeyConstraint("organisation_id", "id", name="pk_emergency_access"),
    )
    op.create_index(
        "ix_emergency_access_organisation_id_since", "emergency_access", ["organisation_id", "since"]
    )
    op.create_table(
        "emergency_seen",
        uuid("organisation_id"),
        uuid("access_id"),
        uuid("user_id"),
        instant("seen_at"),
        within("emergency_seen", "access_id", "emergency_access"),
        within("emergency_seen", "user_id", "users"),
        sa.PrimaryKeyConstraint("organisation_id", "access_id", "user_id", name="pk_emergency_seen"),
    )


def fill_client_keys() -> None:
    """The keys of every client whose details were recorded before."""
    rows = op.get_bind().execute(
        sa.text(
            "SELECT organisation_id, client_id, id, amends, voids, body FROM entries "
            "WHERE kind = 'details' ORDER BY organisation_id, seq"
        )
    )
    told = defaultdict(list)
    for row in rows:
        entry = {"id": row.id, "amends": row.amends, "voids": row.voids, "body": json.loads(row.body)}
        told[row.organisation_id, row.client_id].append(entry)
    keys = [
        {"organisation_id": organisation, "key": key, "client_id": client}
        for (organisation, client), entries in told.items()
        for key in sorted(keys_of(entries))
    ]
    # Without types: on SQLite ids are kept as the text they were just read as.
    table = sa.table("client_keys", *(sa.column(name) for name in ("organisation_id", "key", "client_id")))
    if keys:
        op.get_bind().execute(sa.insert(table), keys)


def uuid(name: str, nullable: bool = False) -> sa.Column:
    """A column of UUIDs."""
    return sa.Column(name, sa.Uuid(as_uuid=False), nullable=nullable)


def instant(name: str, nullable: bool = False) -> sa.Column:
    """A column of moments."""
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def within(table: str, column: str, target: str) -> sa.ForeignKeyConstraint:
    """A reference to a row of the same organisation, and of no other."""
    return sa.ForeignKeyConstraint(
        ["organisation_id", column],
        [f"{target}.organisation_id", f"{target}.id"],
        name=f"fk_{table}_organisation_id_{column}_{target}",
    )

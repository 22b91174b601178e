"""The audit: rows that are only ever added, and the head of each organisation's chain."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

ONLY_ADDED = "the audit is only ever added to"


def upgrade() -> None:
    """Add the rows, the heads, and what refuses every change of a row."""
    op.add_column(
        "organisations", sa.Column("audit_seq", sa.BigInteger(), nullable=False, server_default="0")
    )
    op.add_column(
        "organisations", sa.Column("audit_hash", sa.String(64), nullable=False, server_default="0" * 64)
    )
    create_rows()
    for statement in POSTGRES if op.get_bind().dialect.name == "postgresql" else SQLITE:
        op.execute(statement)


def downgrade() -> None:
    """Drop the audit."""
    op.drop_table("audit")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION audit_only_added()")
    for column in ("audit_seq", "audit_hash"):
        op.drop_column("organisations", column)


def create_rows() -> None:
    """One row a thing that happened."""
    op.create_table(
        "audit",
        sa.Column("organisation_id", sa.Uuid(as_uuid=False), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False, autoincrement=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor_id", sa.Uuid(as_uuid=False)),
        sa.Column("device_id", sa.Uuid(as_uuid=False)),
        sa.Column("action", sa.String(40), nullable=False),
        sa.Column("record_kind", sa.String(20), nullable=False),
        sa.Column("record_id", sa.String(64)),
        sa.Column("person_id", sa.Uuid(as_uuid=False)),
        sa.Column("outcome", sa.String(10), nullable=False),
        sa.Column("reason", sa.String(64)),
        sa.Column("count", sa.BigInteger()),
        sa.Column("request_id", sa.String(32)),
        sa.Column("key_id", sa.String(16), nullable=False),
        sa.Column("prev_hash", sa.String(64), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.ForeignKeyConstraint(
            ["organisation_id"], ["organisations.id"], name="fk_audit_organisation_id_organisations"
        ),
        sa.PrimaryKeyConstraint("organisation_id", "seq", name="pk_audit"),
    )
    for column in ("actor_id", "record_id"):
        name = f"ix_audit_organisation_id_{column}_at"
        op.create_index(name, "audit", ["organisation_id", column, "at"])


SQLITE = [
    f"CREATE TRIGGER audit_no_{verb} BEFORE {verb} ON audit BEGIN SELECT RAISE(ABORT, '{ONLY_ADDED}'); END"
    for verb in ("UPDATE", "DELETE")
]
POSTGRES = [
    "CREATE FUNCTION audit_only_added() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN RAISE EXCEPTION '{ONLY_ADDED}'; END $$",
    "CREATE TRIGGER audit_only_added BEFORE UPDATE OR DELETE ON audit "
    "FOR EACH ROW EXECUTE FUNCTION audit_only_added()",
    "CREATE TRIGGER audit_not_emptied BEFORE TRUNCATE ON audit "
    "FOR EACH STATEMENT EXECUTE FUNCTION audit_only_added()",
]

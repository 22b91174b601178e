"""Alembic's entry: run the migrations on the connection that webapp.storage.upgrade hands over."""

from alembic import context

from webapp.storage.models import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
    compare_type=True,
)
with context.begin_transaction():
    context.run_migrations()

"""Runs the steps on the connection that `migrate` hands over, in its transaction."""

from alembic import context

from pulsewright.records.migrate import VERSION_TABLE

context.configure(connection=context.config.attributes["connection"], version_table=VERSION_TABLE)
with context.begin_transaction():
    context.run_migrations()

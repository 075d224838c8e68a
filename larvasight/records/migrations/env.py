"""Run migration scripts on the connection, and in the transaction, that the caller gives."""

from alembic import context

context.configure(connection=context.config.attributes["connection"])
with context.begin_transaction():
    context.run_migrations()

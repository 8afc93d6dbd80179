"""Runs the steps inside the transaction of `slackwater.book.migrate`."""

from alembic import context

from slackwater.book.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True)
context.run_migrations()

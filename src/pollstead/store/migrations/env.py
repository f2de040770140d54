"""Alembic's entry: migrate on the connection that the store hands over."""

from alembic import context

from pollstead.store.schema import metadata

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=metadata, transactional_ddl=False)
context.run_migrations()

"""Keeping values: one schema on SQLite and on PostgreSQL."""

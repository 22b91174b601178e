"""Sync against the real parts: gunicorn with two workers, SQLite and PostgreSQL, a line that cuts.

Numbers such as F17 are the rows of tests/sync/FAULTS.md.
"""

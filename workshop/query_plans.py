"""What a database must know of its tables to ask them well."""

from django.db import connection


def look_at_tables() -> None:
    """Let PostgreSQL count its tables anew after many rows came at once; elsewhere nothing.

    Until it has, it plans as if they were empty, and a page may take minutes. By itself it looks
    within some minutes of a commit (its manual: *Populating a Database*, *Run ANALYZE Afterwards*).
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")

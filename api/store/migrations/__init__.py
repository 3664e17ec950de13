"""Steps from one shape of the records to the next, run by Alembic."""

__all__: list[str] = []

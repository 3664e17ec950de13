"""The steps, oldest first."""

__all__: list[str] = []

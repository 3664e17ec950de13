"""${message}."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "downgrade", "revision", "upgrade"]

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}


def upgrade() -> None:
    """Go to this shape."""
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    """Go back to the shape before."""
    ${downgrades if downgrades else "pass"}

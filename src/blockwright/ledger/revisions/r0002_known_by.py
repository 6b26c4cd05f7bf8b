"""What makes a mixed ink known: its recipe, or its own swatch."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; an ink without a recipe that was scanned or measured is known by its own swatch.

    One with a recipe may have been measured, too, but nothing tells so: it stays the less sure.
    """
    op.add_column("mixed_inks", sa.Column("known_by", sa.String(20), nullable=False, server_default="recipe"))
    op.execute(
        "UPDATE mixed_inks SET known_by = 'own swatch' WHERE origin IN ('scanned', 'measured') "
        "AND NOT EXISTS (SELECT 1 FROM mixed_ink_parts WHERE mixed_ink_parts.ink = mixed_inks.number)"
    )

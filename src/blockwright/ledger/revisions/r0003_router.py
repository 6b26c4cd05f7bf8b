"""What routs: bits and machines."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def _needed(name: str, kind: Any) -> sa.Column[Any]:
    return sa.Column(name, kind, nullable=False)


def _own() -> sa.Column[Any]:
    return sa.Column("id", sa.Integer, primary_key=True, autoincrement=False)


def upgrade() -> None:
    """Make the tables."""
    number = sa.Float(53)
    op.create_table(
        "router_bits",
        _own(),
        _needed("name", sa.String(100)),
        _needed("number", sa.Integer),
        _needed("kind", sa.String(20)),
        _needed("diameter_mm", number),
        _needed("flutes", sa.Integer),
        _needed("cutting_mm", number),
        _needed("angle_deg", number),
        _needed("tip_mm", number),
        _needed("shank_mm", number),
        _needed("notes", sa.Text),
        _needed("retired", sa.Boolean),
        sa.UniqueConstraint("name"),
    )
    op.create_table(
        "machines",
        _own(),
        _needed("name", sa.String(100)),
        _needed("x_mm", number),
        _needed("y_mm", number),
        _needed("z_mm", number),
        _needed("feed_mm_min", number),
        _needed("plunge_mm_min", number),
        _needed("rapid_mm_min", number),
        _needed("acceleration_mm_s2", number),
        _needed("least_rpm", number),
        _needed("most_rpm", number),
        _needed("arcs", sa.Boolean),
        _needed("tool_change", sa.Boolean),
        _needed("safe_mm", number),
        _needed("junction_mm", number),
        _needed("change_s", number),
        _needed("begin", sa.Text),
        _needed("end", sa.Text),
        _needed("notes", sa.Text),
        _needed("retired", sa.Boolean),
        sa.UniqueConstraint("name"),
    )

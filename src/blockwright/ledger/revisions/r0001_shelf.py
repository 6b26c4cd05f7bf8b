"""The shelf: pigments, mixed inks with their parts, swatches, weighings, uses."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _needed(name: str, kind: Any, *more: Any) -> sa.Column[Any]:
    return sa.Column(name, kind, *more, nullable=False)


def _own(name: str) -> sa.Column[Any]:
    """A number of our own: rows are never taken out, so the highest and one more was never used."""
    return sa.Column(name, sa.Integer, primary_key=True, autoincrement=False)


def upgrade() -> None:
    """Make the tables."""
    number, text, time = sa.Float(53), sa.Text, sa.DateTime(timezone=True)
    op.create_table(
        "pigments",
        _own("id"),
        _needed("name", sa.String(100)),
        sa.Column("colour_index", sa.String(100)),
        _needed("optics", sa.JSON),
        _needed("origin", sa.String(20)),
        _needed("source", text),
        sa.Column("lightfastness", sa.String(20)),
        sa.Column("hazard", text),
        _needed("density_g_per_ml", number),
        _needed("transfer", sa.JSON),
        _needed("on_shelf", sa.Boolean),
        _needed("notes", text),
        _needed("retired", sa.Boolean),
        sa.UniqueConstraint("name"),
    )
    op.create_table(
        "mixed_inks",
        _own("number"),
        _needed("name", sa.String(100)),
        _needed("paste_share", number),
        _needed("optics", sa.JSON),
        _needed("origin", sa.String(20)),
        _needed("density_g_per_ml", number),
        _needed("transfer", sa.JSON),
        sa.Column("made_on", sa.Date),
        _needed("place", text),
        _needed("notes", text),
        _needed("retired", sa.Boolean),
    )
    op.create_table(
        "mixed_ink_parts",
        sa.Column(
            "ink", sa.Integer, sa.ForeignKey("mixed_inks.number"), primary_key=True, autoincrement=False
        ),
        _own("position"),
        _needed("pigment_id", sa.Integer, sa.ForeignKey("pigments.id")),
        _needed("share", number),
    )
    op.create_table(
        "swatches",
        _own("number"),
        sa.Column("pigment_id", sa.Integer, sa.ForeignKey("pigments.id")),
        sa.Column("ink", sa.Integer, sa.ForeignKey("mixed_inks.number")),
        _needed("passes", sa.Integer),
        _needed("ground", sa.String(100)),
        sa.Column("ground_reflectance", sa.JSON),
        sa.Column("reflectance", sa.JSON),
        sa.Column("lab", sa.JSON),
        _needed("origin", sa.String(20)),
        sa.Column("made_on", sa.Date),
        sa.Column("file_name", text),
        sa.Column("file_sha256", sa.String(64)),
        _needed("notes", text),
    )
    op.create_table(
        "weighings",
        _own("id"),
        _needed("ink", sa.Integer, sa.ForeignKey("mixed_inks.number")),
        _needed("weight_g", number),
        _needed("at", time),
    )
    op.create_index("ix_weighings_ink", "weighings", ["ink"])
    op.create_table(
        "uses",
        _own("id"),
        _needed("ink", sa.Integer, sa.ForeignKey("mixed_inks.number")),
        _needed("folder", text),
        _needed("title", text),
        _needed("impression", text),
        _needed("at", time),
    )
    op.create_index("ix_uses_ink", "uses", ["ink"])

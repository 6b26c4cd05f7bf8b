"""The tables as this version of the program reads and writes them; the revisions bring a database there."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
)

REVISIONS = ("0001", "0002", "0003")
"""Every revision that this program knows, the first one first; the last is the one that it works with."""


class UtcTime(TypeDecorator[datetime]):
    """A time in UTC; SQLite keeps no zone, so that it is given back here."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """In UTC, without its zone where the database has none."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without a zone is not kept")
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, _: Dialect) -> datetime | None:
        """In UTC, with its zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = MetaData()


def _needed(name: str, kind: Any, *more: Any, **options: Any) -> Column[Any]:
    return Column(name, kind, *more, nullable=False, **options)


pigments = Table(
    "pigments",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    _needed("name", String(100), unique=True),
    Column("colour_index", String(100)),
    _needed("optics", JSON),
    _needed("origin", String(20)),
    _needed("source", Text),
    Column("lightfastness", String(20)),
    Column("hazard", Text),
    _needed("density_g_per_ml", Float(53)),
    _needed("transfer", JSON),
    _needed("on_shelf", Boolean),
    _needed("notes", Text),
    _needed("retired", Boolean),
)

mixed_inks = Table(
    "mixed_inks",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=False),
    _needed("name", String(100)),
    _needed("paste_share", Float(53)),
    _needed("optics", JSON),
    _needed("origin", String(20)),
    _needed("density_g_per_ml", Float(53)),
    _needed("transfer", JSON),
    Column("made_on", Date),
    _needed("place", Text),
    _needed("notes", Text),
    _needed("retired", Boolean),
    _needed("known_by", String(20), server_default="recipe"),
)

mixed_ink_parts = Table(
    "mixed_ink_parts",
    metadata,
    Column("ink", Integer, ForeignKey("mixed_inks.number"), primary_key=True, autoincrement=False),
    Column("position", Integer, primary_key=True, autoincrement=False),
    _needed("pigment_id", Integer, ForeignKey("pigments.id")),
    _needed("share", Float(53)),
)

swatches = Table(
    "swatches",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("pigment_id", Integer, ForeignKey("pigments.id")),
    Column("ink", Integer, ForeignKey("mixed_inks.number")),
    _needed("passes", Integer),
    _needed("ground", String(100)),
    Column("ground_reflectance", JSON(none_as_null=True)),
    Column("reflectance", JSON(none_as_null=True)),
    Column("lab", JSON(none_as_null=True)),
    _needed("origin", String(20)),
    Column("made_on", Date),
    Column("file_name", Text),
    Column("file_sha256", String(64)),
    _needed("notes", Text),
)

weighings = Table(
    "weighings",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    _needed("ink", Integer, ForeignKey("mixed_inks.number"), index=True),
    _needed("weight_g", Float(53)),
    _needed("at", UtcTime),
)

uses = Table(
    "uses",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    _needed("ink", Integer, ForeignKey("mixed_inks.number"), index=True),
    _needed("folder", Text),
    _needed("title", Text),
    _needed("impression", Text),
    _needed("at", UtcTime),
)

router_bits = Table(
    "router_bits",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    _needed("name", String(100), unique=True),
    _needed("number", Integer),
    _needed("kind", String(20)),
    _needed("diameter_mm", Float(53)),
    _needed("flutes", Integer),
    _needed("cutting_mm", Float(53)),
    _needed("angle_deg", Float(53)),
    _needed("tip_mm", Float(53)),
    _needed("shank_mm", Float(53)),
    _needed("notes", Text),
    _needed("retired", Boolean),
)

machines = Table(
    "machines",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    _needed("name", String(100), unique=True),
    _needed("x_mm", Float(53)),
    _needed("y_mm", Float(53)),
    _needed("z_mm", Float(53)),
    _needed("feed_mm_min", Float(53)),
    _needed("plunge_mm_min", Float(53)),
    _needed("rapid_mm_min", Float(53)),
    _needed("acceleration_mm_s2", Float(53)),
    _needed("least_rpm", Float(53)),
    _needed("most_rpm", Float(53)),
    _needed("arcs", Boolean),
    _needed("tool_change", Boolean),
    _needed("safe_mm", Float(53)),
    _needed("junction_mm", Float(53)),
    _needed("change_s", Float(53)),
    _needed("begin", Text),
    _needed("end", Text),
    _needed("notes", Text),
    _needed("retired", Boolean),
)

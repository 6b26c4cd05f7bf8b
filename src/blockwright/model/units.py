"""Units and the few aliases that every room shares. Lengths are mm; y points down."""

from typing import Annotated, Any

import shapely
from pydantic import PlainSerializer, PlainValidator
from shapely.geometry import MultiPolygon, Polygon

MM_PER_INCH = 25.4
POINTS_PER_INCH = 72.0
"""ISO 32000 user space units to the inch."""

PointMm = tuple[float, float]
"""A place (x, y) in mm."""

Lab = tuple[float, float, float]
"""CIELAB L*, a*, b* under D65, 2 degree observer."""

Rgb = tuple[float, float, float]
"""Three numbers, one a band: red, green, blue."""


def _read_wkb(value: Any) -> Any:
    return shapely.from_wkb(value) if isinstance(value, str) else value


def _write_wkb(value: Any) -> str:
    return str(shapely.to_wkb(value, hex=True))


Region = Annotated[Polygon, PlainValidator(_read_wkb), PlainSerializer(_write_wkb, return_type=str)]
"""One connected area in mm; stored as well-known binary (OGC Simple Features) in hexadecimal."""

Area = Annotated[MultiPolygon, PlainValidator(_read_wkb), PlainSerializer(_write_wkb, return_type=str)]
"""Any number of areas in mm that do not overlap; stored as well-known binary in hexadecimal."""

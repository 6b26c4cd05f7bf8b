"""What Exif (JEITA CP-3451) says about a picture here: which way up it is, and its resolution."""

from dataclasses import dataclass

from PIL import Image

from blockwright.model.units import MM_PER_INCH

_ORIENTATION, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 274, 282, 283, 296
_MM_PER_UNIT = {2: MM_PER_INCH, 3: 10.0}
_INCH = 2


@dataclass(frozen=True, slots=True)
class Exif:
    """Orientation 1 to 8, and pixels per mm along x and y when stored."""

    orientation: int = 1
    resolution_per_mm: tuple[float, float] | None = None


def read_exif(data: bytes | None) -> Exif:
    """Read the orientation and the resolution; damaged Exif counts as none, as it is no part of the picture.

    >>> read_exif(b"Exif and nothing more")
    Exif(orientation=1, resolution_per_mm=None)
    """
    if not data:
        return Exif()
    tags = Image.Exif()
    try:
        tags.load(data)
        orientation = tags.get(_ORIENTATION)
        x, y = tags.get(_X_RESOLUTION), tags.get(_Y_RESOLUTION)
        unit = tags.get(_RESOLUTION_UNIT, _INCH)
    except Exception:  # the parser raises whatever the damage leads it to: struct, key, type, value errors
        return Exif()
    resolution = None
    if x is not None and y is not None and unit in _MM_PER_UNIT:
        resolution = _per_mm(x, y, _MM_PER_UNIT[unit])
    if not isinstance(orientation, int) or not 1 <= orientation <= 8:
        orientation = 1
    return Exif(orientation, resolution)


def _per_mm(x: object, y: object, mm_per_unit: float) -> tuple[float, float] | None:
    try:
        return float(x) / mm_per_unit, float(y) / mm_per_unit  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None

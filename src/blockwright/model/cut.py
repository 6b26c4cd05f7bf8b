"""Cut: for each face and method what is to be cut, and what it costs in time."""

from dataclasses import dataclass
from typing import Literal

from blockwright.model.findings import Finding
from blockwright.model.units import Area, PointMm, Region

Method = Literal["hand", "stencil"]


@dataclass(frozen=True, slots=True)
class FaceCut:
    """What is cut on one face. Coordinates as on the face: mirrored.

    ``printing`` stays at full height. ``clear`` is taken down near the printing edges; ``island`` is
    waste far from any edge that may stay standing with rounded shoulders. ``weed`` are points inside the
    parts of a stencil that are lifted off before blasting; ``border`` is the stencil's outer edge, larger
    than the block (both empty or None by hand). ``minutes`` rests on the carving rates in the settings.
    """

    face: str
    method: Method
    impressions: tuple[int, ...]
    printing: Area
    clear: Area
    island: Area
    weed: tuple[PointMm, ...]
    border: Region | None
    edge_mm: float
    clear_mm2: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Cut:
    """Every face's cut, in the order of the faces."""

    faces: tuple[FaceCut, ...]
    findings: tuple[Finding, ...] = ()

"""Design: the picture's size, its palette and its shapes as a coverage."""

from dataclasses import dataclass

from blockwright.model.axis import Axis, Way
from blockwright.model.findings import Finding
from blockwright.model.units import Lab, PointMm, Region


@dataclass(frozen=True, slots=True)
class PaletteColour:
    """One flat colour of the design: a name, its sRGB value as ``#rrggbb``, and CIELAB (D65)."""

    name: str
    srgb_hex: str
    lab: Lab


@dataclass(frozen=True, slots=True)
class Run:
    """Colour that runs: ``lab`` at equal steps along the axis, at least two, the same beyond either end.

    ``srgb_hex`` are the same colours as ``#rrggbb``, as a screen shows them. ``printed`` is how the
    printmaker wants it printed; None leaves it to the separation.
    """

    axis: Axis
    lab: tuple[Lab, ...]
    srgb_hex: tuple[str, ...]
    printed: Way | None = None


@dataclass(frozen=True, slots=True)
class Shape:
    """One connected area of one colour. ``colour`` counts into the palette; ``at`` lies inside.

    Where the colour runs, ``run`` tells how, and the palette has the mean of it. Shapes of one palette colour
    share one run: a sky goes on behind the clouds.
    """

    colour: int
    region: Region
    at: PointMm
    run: Run | None = None


@dataclass(frozen=True, slots=True)
class Tracing:
    """A picture's shapes as traced, before any hand edit; ``palette`` holds ``#rrggbb``.

    ``found`` is the palette of flat colours that the pixels were given, steps of gradations among them.
    Coordinates, ``median_delta_e00`` and ``lost_percent`` are as in :class:`Design`.
    """

    width_mm: float
    height_mm: float
    pixels_per_mm: float
    palette: tuple[str, ...]
    shapes: tuple[Shape, ...]
    median_delta_e00: float
    lost_percent: float
    findings: tuple[Finding, ...] = ()
    found: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Design:
    """A colour design as shapes that share their edges: no gap, no overlap.

    The regions are right-reading, in mm, and together cover the rectangle from (0, 0) to
    (``width_mm``, ``height_mm``). ``median_delta_e00`` is the CIEDE2000 difference between the picture's
    pixels and the colours that stand for them; ``lost_percent`` is the share of the picture's area
    that differs by more than 5. ``gap_mm2`` and ``overlap_mm2`` are measured, not assumed.
    """

    title: str
    width_mm: float
    height_mm: float
    pixels_per_mm: float
    paper_hex: str
    palette: tuple[PaletteColour, ...]
    shapes: tuple[Shape, ...]
    coverage_valid: bool
    gap_mm2: float
    overlap_mm2: float
    median_delta_e00: float
    lost_percent: float
    findings: tuple[Finding, ...] = ()

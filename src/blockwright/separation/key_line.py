"""Line work and the key block: which colour carries it, and which thin shapes are lifted into it.

A line is a part of a shape that is narrower than a width and much longer than it is wide. The key is the
darkest printed colour if most of its outline runs along such lines; whatever it fills besides, solid blacks
included, is printed from the same block, as the trade does.

A line that is drawn in one stroke can come out in two colours: lighter where the brush ran dry or where a
shadow lies over it. So a thin shape of a near colour that goes on from the key is lifted into it. It must be
a line itself, and its colour must do little but such lines: where a colour also fills areas, its thin shapes
belong with them. A shape that lies along the key with much of its outline is the shadow beside a line or the
end of a fill, and stays, unless it is too thin to be cut.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour import delta_e00
from blockwright.model.findings import Finding
from blockwright.model.settings import SeparationTable
from blockwright.separation.edges import SharedEdges
from blockwright.separation.middles import thin_part
from blockwright.separation.order import NamedColours
from blockwright.separation.plan import Coloured
from blockwright.separation.remembered import Told, dissolve
from blockwright.separation.remembering import digest

_LINE_SHARE = 0.5
"""The darkest colour is the key if more than this part of its outline runs along lines [CP]."""

_LONG = 4.0
"""A line is at least this many times as long as it is wide [CP]: shorter ones are dots."""

_LONG_PIECE = 2.0
"""Beside a solid, a line is at least this many times as long as a line may be wide [CP], or a corner."""

_ALONG = 1.0 / 3.0
"""A thin shape that shares more of its outline with the key than this lies along it [CP]."""

_FRINGE_MM = 0.25
"""What lies along the key thinner than this, mm, is lifted all the same: cherry does not carry it [CP]."""

_NO_KEY = "none"
_FOUND = "found"


@dataclass(frozen=True, slots=True)
class _Lines:
    """Length of the lines in a polygon, and of the outline of these parts, mm."""

    length_mm: float
    outline_mm: float


def _length_mm(parts: NDArray[np.object_]) -> NDArray[np.float64]:
    """Length of strips: half their outline less their mean width."""
    outline = shapely.length(parts)
    length: NDArray[np.float64] = outline / 2.0 - 2.0 * shapely.area(parts) / outline
    return length


def _width_mm(parts: NDArray[np.object_]) -> NDArray[np.float64]:
    """Mean width of strips."""
    width: NDArray[np.float64] = 2.0 * shapely.area(parts) / shapely.length(parts)
    return width


def _told(polygon: shapely.Polygon) -> Told:
    return Told(digest(polygon.wkb), np.array([polygon], dtype=object))


def _lines_in(polygon: shapely.Polygon, widest_mm: float) -> _Lines:
    parts = thin_part(_told(polygon), widest_mm)
    if not len(parts):
        return _Lines(0.0, 0.0)
    length = _length_mm(parts)
    whole = parts[0] is polygon
    long = length >= (_LONG * _width_mm(parts) if whole else _LONG_PIECE * widest_mm)
    return _Lines(float(length[long].sum()), float(shapely.length(parts[long]).sum()))


def line_length_mm(regions: NDArray[np.object_], widest_mm: float) -> float:
    """Length of the lines in the shapes of the key, those that meet taken together, mm.

    >>> cross = shapely.union_all([shapely.box(0, 9, 20, 10), shapely.box(9, 0, 10, 20)])
    >>> round(line_length_mm(np.array([cross]), 3.0))
    39
    """
    if widest_mm <= 0.0 or not len(regions):
        return 0.0
    return sum(_lines_in(polygon, widest_mm).length_mm for polygon in dissolve(regions))


def _carries_lines(work: Coloured, colour: int, widest_mm: float) -> bool:
    own = work.regions[work.shapes_of(colour)]
    if widest_mm <= 0.0:
        return False
    outline_mm = sum(_lines_in(polygon, widest_mm).outline_mm for polygon in own)
    return outline_mm > _LINE_SHARE * float(shapely.length(own).sum())


def find_key(
    work: Coloured, named: NamedColours, settings: SeparationTable
) -> tuple[int | None, list[Finding]]:
    """The palette colour of the key, or None, as the printmaker decided or as it is found."""
    findings: list[Finding] = []
    if settings.key_at is not None:
        colour = _colour_at(work, settings.key_at)
        if colour in work.printed:
            return colour, findings
        findings.append(_misses(work, settings.key_at, paper=colour is not None))
    wanted = settings.key.strip().casefold()
    if wanted == _NO_KEY:
        return None, findings
    if wanted != _FOUND:
        colour = named.find(settings.key)
        if colour is not None:
            return colour, findings
        findings.append(named.missing(settings.key, setting="key"))
    if work.printed and _carries_lines(work, work.printed[-1], settings.widest_line_mm):
        return work.printed[-1], findings
    return None, findings


def _colour_at(work: Coloured, at: tuple[float, float]) -> int | None:
    found = np.flatnonzero(shapely.intersects_xy(work.regions, *at))
    return int(work.colour[found[0]]) if len(found) else None


def _misses(work: Coloured, at: tuple[float, float], *, paper: bool) -> Finding:
    where = (
        "is left as bare paper"
        if paper
        else f"lies outside the picture ({work.design.width_mm:.0f} x {work.design.height_mm:.0f} mm)"
    )
    message = (
        f"The place {at[0]:g}, {at[1]:g} of [separation] key_at {where}, so that line does nothing. "
        "Give a place on a printed colour."
    )
    return Finding("key-misses", "warn", message, None)


def lift(work: Coloured, key: int, edges: SharedEdges, settings: SeparationTable) -> Coloured:
    """The shapes with those that carry the key's lines on given to its colour."""
    near = _near_colours(work, key, settings)
    candidates = np.flatnonzero(work.printed_in(near))
    if not len(candidates):
        return work
    regions = work.regions[candidates]
    width, outline = _width_mm(regions), shapely.length(regions)
    line = (width <= settings.widest_line_mm) & (_length_mm(regions) >= _LONG * width)
    candidates, width, outline = candidates[line], width[line], outline[line]
    with_key = _common_mm(work, edges, work.printed_in([key]))[candidates] / outline
    joins = (with_key <= _ALONG) | (width <= _FRINGE_MM)
    lifted = _connected(work, edges, key, candidates[joins])
    if not lifted.any():
        return work
    colour = np.where(lifted, key, work.colour)
    after = replace(work, colour=colour)
    return replace(after, printed=tuple(c for c in work.printed if len(after.shapes_of(c))))


def _near_colours(work: Coloured, key: int, settings: SeparationTable) -> list[int]:
    """The printed colours near the key's that are line work themselves, taken together."""
    palette = work.design.palette
    near = []
    for c in work.printed:
        own = work.regions[work.shapes_of(c)]
        narrow = float(shapely.area(own).sum()) * 2.0 <= settings.widest_line_mm * float(
            shapely.length(own).sum()
        )
        off = float(delta_e00(palette[c].lab, palette[key].lab))
        if c != key and narrow and off <= settings.lift_within_delta_e00:
            near.append(c)
    return near


def _common_mm(work: Coloured, edges: SharedEdges, of: NDArray[np.bool_]) -> NDArray[np.float64]:
    """For every shape the length of its edges with some of the shapes, mm."""
    common = np.zeros(len(work.regions))
    for one, other in ((edges.first, edges.second), (edges.second, edges.first)):
        beside = of[other]
        common += np.bincount(one[beside], weights=edges.length_mm[beside], minlength=len(work.regions))
    return common


def _connected(
    work: Coloured, edges: SharedEdges, key: int, candidates: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Those of the candidates that meet the key, or another one that does."""
    may = np.zeros(len(work.regions), dtype=np.bool_)
    may[candidates] = True
    lifted = np.zeros_like(may)
    while True:
        found = may & ~lifted & (_common_mm(work, edges, lifted | work.printed_in([key])) > 0.0)
        if not found.any():
            return lifted
        lifted |= found

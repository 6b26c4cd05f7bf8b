"""Coverages: polygons that share their edges vertex for vertex, without gap or overlap.

The predicates are GEOS's (through shapely), after the OGC Simple Features definition of a valid coverage.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.geometry.arcs import trace_arcs
from blockwright.geometry.edges import place_edges
from blockwright.geometry.labelling import label_regions
from blockwright.geometry.untangling import polygons_without_crossings


@dataclass(frozen=True, slots=True)
class Coverage:
    """Polygons (shapely, object array) with the label of each, in mm."""

    polygons: NDArray[np.object_]
    labels: NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class CoverageCheck:
    """What was measured of a coverage against the rectangle that it should fill; areas in mm2."""

    valid: bool
    gap_mm2: float
    overlap_mm2: float


def trace_coverage(
    labels: NDArray[np.uint8],
    image: NDArray[np.uint8],
    palette_rgb: NDArray[np.float64],
    *,
    pixels_per_mm: float,
    smoothing_mm: float,
) -> Coverage:
    """Turn a label map into polygons in mm whose edges lie where the colours meet.

    ``labels`` (H, W) uint8; ``image`` (H, W, 3) uint8 from which the edges' sub-pixel places are read;
    ``palette_rgb`` (n, 3) on the 0..255 scale. Every connected region gives exactly one polygon. Arcs that
    would cross a neighbour once smoothed are taken back to the pixel lattice, which cannot cross.

    >>> labels = np.zeros((8, 8), np.uint8); labels[:, 4:] = 1
    >>> image = np.where(labels[:, :, None] == 1, 255, 0).astype(np.uint8).repeat(3, axis=2)
    >>> palette = np.array([[0.0] * 3, [255.0] * 3])
    >>> coverage = trace_coverage(labels, image, palette, pixels_per_mm=2.0, smoothing_mm=0.5)
    >>> sorted(float(polygon.area) for polygon in coverage.polygons)
    [8.0, 8.0]
    """
    height, width = labels.shape
    regions, area, label_of = label_regions(labels)
    if len(area) == 1:
        whole = np.array([shapely.box(0, 0, width / pixels_per_mm, height / pixels_per_mm)], dtype=object)
        return Coverage(whole, label_of)
    arcs = trace_arcs(labels)
    smoothing_px = max(smoothing_mm * pixels_per_mm, 0.6)
    placed = place_edges(arcs, labels, image, palette_rgb, smoothing_px=smoothing_px)
    polygons = polygons_without_crossings(arcs, placed, regions, len(area))
    return Coverage(shapely.transform(polygons, lambda xy: xy / pixels_per_mm), label_of)


def check_coverage(polygons: NDArray[np.object_], *, width_mm: float, height_mm: float) -> CoverageCheck:
    """Measure gaps and overlaps of polygons that should fill the rectangle from (0, 0).

    >>> two = np.array([shapely.box(0, 0, 1, 1), shapely.box(1, 0, 3, 1)])
    >>> check_coverage(two, width_mm=3.0, height_mm=1.0)
    CoverageCheck(valid=True, gap_mm2=0.0, overlap_mm2=0.0)
    """
    valid = bool(shapely.coverage_is_valid(polygons))
    union = shapely.coverage_union_all(polygons) if valid else shapely.unary_union(polygons)
    frame = shapely.box(0.0, 0.0, width_mm, height_mm)
    gap = frame.difference(union).area
    overlap = float(shapely.area(polygons).sum()) - union.area
    # Sums of many areas carry rounding of about 1e-9 of the whole; less than that is nothing.
    noise = 1e-9 * frame.area
    return CoverageCheck(valid, gap if gap > noise else 0.0, overlap if overlap > noise else 0.0)

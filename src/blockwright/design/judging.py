"""Findings of the design stage: what cannot be carved or printed, and pictures that are not flat paint."""

import numpy as np
import shapely

from blockwright.design.flattening import FlatPicture
from blockwright.design.palette import lost_at
from blockwright.geometry.coverage import Coverage
from blockwright.geometry.widths import NarrowPlace, narrow_places
from blockwright.model.design import PaletteColour
from blockwright.model.findings import Finding
from blockwright.model.settings import DesignTable

_LEAST_FLAT_SHARE = 0.35
"""Below this share of flat paint a picture is a photograph or a wash, not a design."""

_MOST_LOST = 25.0
"""Percent of the area that may visibly change before the picture counts as having no flat colours."""

_COUNTS = (8, 16, 32)
"""Numbers of colours for which the loss is told."""

_MOST_PLACES = 40
"""Places of one kind that are told one by one; a list longer than this is not read."""


def judge_flatness(
    flat: FlatPicture, heaped_share: float | None, lost_percent: float, colours: int
) -> list[Finding]:
    """Say so when a picture has no flat colours, and what is lost at how many."""
    if heaped_share is None or heaped_share >= _LEAST_FLAT_SHARE or lost_percent < _MOST_LOST:
        return []
    told = ", ".join(
        f"{share:.0f} % with {count}" for count, share in zip(_COUNTS, lost_at(flat, _COUNTS), strict=True)
    )
    return [
        Finding(
            "no-flat-colours",
            "warn",
            f"This picture has hardly any flat colour; it looks like a photograph or a wash. With {colours} "
            f"colour{'s' * (colours != 1)} {lost_percent:.0f} % of its area changes visibly ({told}). "
            "Paint it over in flat colours, or choose them yourself (palette under [design]).",
        )
    ]


def _small(coverage: Coverage, palette: tuple[PaletteColour, ...], least_mm2: float) -> list[Finding]:
    area = shapely.area(coverage.polygons)
    small = np.flatnonzero(area < least_mm2)
    small = small[np.argsort(area[small], kind="stable")]
    findings = []
    for k in small[:_MOST_PLACES]:
        inside = shapely.point_on_surface(coverage.polygons[k])
        findings.append(
            Finding(
                "shape-too-small",
                "warn",
                f"A shape of {palette[coverage.labels[k]].name} is only {area[k]:.2f} mm²; under "
                f"{least_mm2:g} mm² it may break off. Drop it, or merge it with a neighbour.",
                (round(inside.x, 2), round(inside.y, 2)),
            )
        )
    if len(small) > _MOST_PLACES:
        findings.append(
            Finding(
                "many-small-shapes",
                "warn",
                f"{len(small)} shapes are under {least_mm2:g} mm²; the {_MOST_PLACES} smallest are listed. "
                "A larger size for specks fills them (speck_mm2 under [design]).",
            )
        )
    return findings


def _narrow(
    places: list[NarrowPlace], coverage: Coverage, palette: tuple[PaletteColour, ...], least_mm: float
) -> list[Finding]:
    findings = []
    for place in places[:_MOST_PLACES]:
        name = palette[coverage.labels[place.polygon]].name
        what = "A neck" if place.neck else "A line or tongue"
        findings.append(
            Finding(
                "neck-too-narrow" if place.neck else "line-too-narrow",
                "warn",
                f"{what} of {name} is about {place.width_mm:.2f} mm wide; under {least_mm:g} mm it may not "
                "stand. Paint it wider, or drop it.",
                (round(place.at[0], 2), round(place.at[1], 2)),
            )
        )
    if len(places) > _MOST_PLACES:
        findings.append(
            Finding(
                "many-narrow-places",
                "warn",
                f"{len(places)} places are under {least_mm:g} mm wide; the {_MOST_PLACES} narrowest are "
                "listed. Paint those wider first, or drop them.",
            )
        )
    return findings


def judge_shapes(
    coverage: Coverage, palette: tuple[PaletteColour, ...], settings: DesignTable
) -> list[Finding]:
    """Point at islands under the least area and at necks and lines under the least width."""
    places = narrow_places(coverage.polygons, width_mm=settings.least_width_mm)
    return [
        *_small(coverage, palette, settings.least_area_mm2),
        *_narrow(places, coverage, palette, settings.least_width_mm),
    ]

"""From a design's shapes to impressions in printing order: one ink a colour, paper left bare."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    ink_for_colour,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.model.design import Design
from blockwright.model.findings import Finding
from blockwright.model.separation import Impression, Ink, Kind, Separation
from blockwright.model.settings import SeparationTable
from blockwright.model.units import PointMm
from blockwright.separation.edges import SharedEdges, shared_edges
from blockwright.separation.order import NamedColours, by_lightness, printing_order
from blockwright.separation.paper import PaperRule
from blockwright.separation.traps import printing_areas

KEY_MEAN_WIDTH_MM = 3.0
"""The darkest colour counts as the key block when its shapes are on average narrower than this, mm [CP]."""

MANY_IMPRESSIONS = 20
"""More impressions than this are pointed out [CP]: every one wets the sheet again and can drift."""

SMALL_IMPRESSION_MM2 = 5.0
"""An impression that prints less than this is pointed out, mm2 [CP]."""


@dataclass(frozen=True, slots=True)
class _Work:
    """What the steps below share: the design as arrays, and its printed colours from light to dark."""

    design: Design
    regions: NDArray[np.object_]
    colour: NDArray[np.int64]
    area_mm2: NDArray[np.float64]
    printed: tuple[int, ...]

    def place(self, palette_colour: int) -> PointMm:
        """A point inside the largest shape of a colour."""
        shapes = np.flatnonzero(self.colour == palette_colour)
        return self.design.shapes[int(shapes[np.argmax(self.area_mm2[shapes])])].at


def _opening(name: str) -> str:
    """A name as the first words of a sentence; the printmaker's own capitals stay."""
    return name[:1].upper() + name[1:]


def _prepare(design: Design, rule: PaperRule) -> tuple[_Work, list[Finding]]:
    """Sort the colours into printed ones and paper."""
    regions = np.array([shape.region for shape in design.shapes], dtype=object)
    colour = np.array([shape.colour for shape in design.shapes], dtype=np.int64)
    used = [int(c) for c in np.unique(colour)]
    reasons = {c: rule.reason(design.palette[c]) for c in used}
    printed = by_lightness(design, (c for c in used if reasons[c] is None))
    work = _Work(design, regions, colour, shapely.area(regions), tuple(printed))
    findings = [
        Finding(
            code="lighter-than-paper",
            severity="note",
            message=f"{_opening(design.palette[c].name)} ({design.palette[c].srgb_hex}) is lighter "
            f"than the paper ({design.paper_hex}) and is left unprinted; a transparent ink cannot lighten.",
            at=work.place(c),
        )
        for c in used
        if reasons[c] == "lighter"
    ]
    return work, findings


def _passes_and_traps(
    named: NamedColours, settings: SeparationTable
) -> tuple[dict[int, int], dict[int, float], list[Finding]]:
    """Passes and trap of every printed colour as the printmaker decided them."""
    passes = dict.fromkeys(named.printed, 1)
    traps = dict.fromkeys(named.printed, settings.trap_mm)
    findings = []
    for decision in settings.passes:
        colour = named.find(decision.colour)
        if colour is None:
            findings.append(named.missing(decision.colour, setting="passes"))
        else:
            passes[colour] = decision.times
    for choice in settings.trap:
        colour = named.find(choice.colour)
        if colour is None:
            findings.append(named.missing(choice.colour, setting="trap"))
        else:
            traps[colour] = choice.mm
    return passes, traps, findings


def _kind(work: _Work, palette_colour: int) -> Kind:
    """The key block carries the line work and is the darkest."""
    if palette_colour != work.printed[-1]:
        return "colour"
    own = work.regions[work.colour == palette_colour]
    mean_width_mm = 2.0 * float(shapely.area(own).sum()) / float(shapely.length(own).sum())
    return "key" if mean_width_mm < KEY_MEAN_WIDTH_MM else "colour"


def _impressions(
    work: _Work,
    order: list[int],
    passes: dict[int, int],
    traps: dict[int, float],
    areas: dict[int, MultiPolygon],
) -> tuple[Impression, ...]:
    made = []
    for number, c in enumerate(order, start=1):
        colour = work.design.palette[c]
        k, s = ink_for_colour(colour.srgb_hex, work.design.paper_hex, passes=passes[c])
        made.append(
            Impression(
                number=number,
                name=colour.name,
                kind=_kind(work, c),
                ink=Ink(name=colour.name, k=k, s=s),
                passes=passes[c],
                shapes=tuple(int(i) for i in np.flatnonzero(work.colour == c)),
                area=areas[c],
                trap_mm=traps[c],
                srgb_hex=colour.srgb_hex,
                lab=colour.lab,
            )
        )
    return tuple(made)


def _edge_lengths(
    edges: SharedEdges, number_of_shape: NDArray[np.int64]
) -> tuple[tuple[int, int, float], ...]:
    """Length of common edge for every pair of impressions; number 0 is paper."""
    pair = np.sort(np.stack([number_of_shape[edges.first], number_of_shape[edges.second]], axis=1), axis=1)
    counted = (pair[:, 0] > 0) & (pair[:, 0] != pair[:, 1])
    pairs, where = np.unique(pair[counted], axis=0, return_inverse=True)
    lengths = np.bincount(where.ravel(), weights=edges.length_mm[counted], minlength=len(pairs))
    return tuple((int(a), int(b), float(mm)) for (a, b), mm in zip(pairs, lengths, strict=True))


def _differences(work: _Work, impressions: tuple[Impression, ...]) -> NDArray[np.float64]:
    """CIEDE2000 between every palette colour and what is printed or left for it."""
    paper = colour_reflectance(work.design.paper_hex)
    predicted = np.tile(hex_to_lab(work.design.paper_hex), (len(work.design.palette), 1))
    for impression in impressions:
        colour = int(work.colour[impression.shapes[0]])
        seen = layer_reflectance(impression.ink.k, impression.ink.s, float(impression.passes), paper)
        predicted[colour] = reflectance_to_lab(seen)
    return delta_e00(predicted, [colour.lab for colour in work.design.palette])


def _remarks(work: _Work, impressions: tuple[Impression, ...]) -> list[Finding]:
    """What a careful colleague would say about the impressions."""
    remarks = []
    if not impressions:
        message = "Nothing is printed: every colour of the design is the paper's or lighter. "
        message += "Set the paper to the colour of yours, or leave fewer colours unprinted "
        message += "([separation] paper_within_delta_e00)."
        remarks.append(Finding(code="nothing-to-print", severity="stop", message=message))
    if len(impressions) > MANY_IMPRESSIONS:
        message = f"{len(impressions)} impressions are many: each one wets the sheet again and can drift. "
        message += "Merge near colours, or ask for fewer ([design] colours)."
        remarks.append(Finding(code="many-impressions", severity="warn", message=message))
    for impression in impressions:
        colour = int(work.colour[impression.shapes[0]])
        place, name = work.place(colour), _opening(impression.name)
        about = (("colour", impression.name),)
        if impression.area.area < SMALL_IMPRESSION_MM2:
            message = (
                f"{name} prints only {impression.area.area:.1f} mm²; it may not be worth a block of its own. "
                "Merge it into a near colour, or leave it."
            )
            remarks.append(Finding("small-impression", "note", message, place, about))
    return remarks


def separate(design: Design, settings: SeparationTable) -> Separation:
    """Make the impressions of a design, in printing order, each area with its traps.

    Paper is not printed (see :class:`~blockwright.separation.paper.PaperRule`). Every other colour is one
    impression, printed light to dark by L* unless ``settings.order`` says otherwise. Each area runs under its
    darker neighbours by the trap and never under a lighter one or over paper. Inks are mixed so that the
    planned passes give the colour on the bare paper. Names that match no printed colour become findings.
    """
    work, findings = _prepare(design, PaperRule(design.paper_hex, settings.paper_within_delta_e00))
    named = NamedColours(design, work.printed)
    order, order_findings = printing_order(named, work.printed, settings.order)
    passes, traps, decision_findings = _passes_and_traps(named, settings)

    rank_of = np.full(len(design.palette), -1, dtype=np.int64)
    rank_of[list(work.printed)] = np.arange(len(work.printed))
    number_of = np.zeros(len(design.palette), dtype=np.int64)
    number_of[order] = np.arange(1, len(order) + 1)
    edges = shared_edges(work.regions)
    areas = printing_areas(
        work.regions,
        rank=rank_of[work.colour],
        trap_mm=np.array([traps[c] for c in work.printed], dtype=np.float64),
        edges=edges,
    )
    impressions = _impressions(work, order, passes, traps, dict(zip(work.printed, areas, strict=True)))
    differences = _differences(work, impressions)
    of_shapes = differences[work.colour]
    return Separation(
        impressions=impressions,
        paper_shapes=tuple(int(i) for i in np.flatnonzero(rank_of[work.colour] < 0)),
        edges_mm=_edge_lengths(edges, number_of[work.colour]),
        median_delta_e00=float(np.quantile(of_shapes, 0.5, weights=work.area_mm2, method="inverted_cdf")),
        max_delta_e00=float(of_shapes.max()),
        findings=(
            *findings,
            *order_findings,
            *decision_findings,
            *_remarks(work, impressions),
        ),
    )

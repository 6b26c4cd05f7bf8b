"""From a design's shapes to impressions in printing order: their areas with traps, and what they come to."""

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.model.design import Design
from blockwright.model.findings import Finding
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import SeparationTable
from blockwright.separation.edges import SharedEdges, shared_edges
from blockwright.separation.finishes import choose_finishes, finishing_impressions
from blockwright.separation.gilding import lay_leaves, leaf_remarks
from blockwright.separation.order import NamedColours, by_lightness, printing_order
from blockwright.separation.paper import PaperRule
from blockwright.separation.plan import Coloured, Planned, one_a_colour
from blockwright.separation.traps import printing_areas

MANY_IMPRESSIONS = 20
"""More impressions than this are pointed out [CP]: every one wets the sheet again and can drift."""

SMALL_IMPRESSION_MM2 = 5.0
"""An impression that prints less than this is pointed out, mm2 [CP]."""


def _opening(name: str) -> str:
    """A name as the first words of a sentence; the printmaker's own capitals stay."""
    return name[:1].upper() + name[1:]


def _prepare(design: Design, rule: PaperRule) -> tuple[Coloured, list[Finding]]:
    """Sort the colours into printed ones and paper."""
    regions = np.array([shape.region for shape in design.shapes], dtype=object)
    colour = np.array([shape.colour for shape in design.shapes], dtype=np.int64)
    used = [int(c) for c in np.unique(colour)]
    reasons = {c: rule.reason(design.palette[c]) for c in used}
    printed = by_lightness(design, (c for c in used if reasons[c] is None))
    work = Coloured(design, regions, colour, shapely.area(regions), tuple(printed))
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


def _covered(work: Coloured, planned: tuple[Planned, ...]) -> NDArray[np.bool_]:
    """Which impression prints which shape, traps left out: (impressions, shapes)."""
    covers = np.zeros((len(planned), len(work.regions)), dtype=np.bool_)
    for row, each in zip(covers, planned, strict=True):
        row[list(each.shapes)] = True
    return covers


def _impressions(
    planned: tuple[Planned, ...], areas: tuple[shapely.MultiPolygon, ...]
) -> tuple[Impression, ...]:
    return tuple(
        Impression(
            number=number,
            name=each.name,
            kind=each.kind,
            ink=each.ink,
            passes=each.passes,
            shapes=each.shapes,
            area=area,
            trap_mm=each.trap_mm,
            srgb_hex=each.srgb_hex,
            lab=each.lab,
        )
        for number, (each, area) in enumerate(zip(planned, areas, strict=True), start=1)
    )


def _edge_lengths(edges: SharedEdges, covers: NDArray[np.bool_]) -> tuple[tuple[int, int, float], ...]:
    """Length of common edge for every pair of impressions that can move apart there.

    At an edge those are, of the impressions that print only one side, the last on either side; where one side
    has all that the other has, nothing can gape.
    """
    patterns, which = np.unique(covers, axis=1, return_inverse=True)
    which = which.ravel()
    sides = np.stack([which[edges.first], which[edges.second]], axis=1)
    met, row = np.unique(np.sort(sides, axis=1), axis=0, return_inverse=True)
    length_mm = np.bincount(row.ravel(), weights=edges.length_mm, minlength=len(met))
    found: dict[tuple[int, int], float] = {}
    for (one, other), mm in zip(met.tolist(), length_mm.tolist(), strict=True):
        only_one = np.flatnonzero(patterns[:, one] & ~patterns[:, other])
        only_other = np.flatnonzero(patterns[:, other] & ~patterns[:, one])
        if len(only_one) and len(only_other):
            pair = sorted((int(only_one[-1]) + 1, int(only_other[-1]) + 1))
            found[pair[0], pair[1]] = found.get((pair[0], pair[1]), 0.0) + mm
    return tuple((a, b, mm) for (a, b), mm in sorted(found.items()))


def _differences(
    work: Coloured, planned: tuple[Planned, ...], covers: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """CIEDE2000 between every shape's colour and what is printed or left for it."""
    patterns, which = np.unique(covers, axis=1, return_inverse=True)
    seen = np.tile(colour_reflectance(work.design.paper_hex), (patterns.shape[1], 1))
    for row, each in zip(patterns, planned, strict=True):
        seen[row] = layer_reflectance(each.ink.k, each.ink.s, float(each.passes), seen[row])
    wanted = np.array([colour.lab for colour in work.design.palette])
    return delta_e00(reflectance_to_lab(seen)[which.ravel()], wanted[work.colour])


def _remarks(work: Coloured, impressions: tuple[Impression, ...]) -> list[Finding]:
    """What a careful colleague would say about the impressions."""
    remarks = []
    if not impressions:
        message = "Nothing is printed: every colour of the design is the paper's or lighter. "
        message += "Set the paper to the colour of yours, or leave fewer colours unprinted "
        message += "([separation] paper_within_delta_e00)."
        remarks.append(Finding(code="nothing-to-print", severity="stop", message=message))
    inked = sum(each.ink is not None for each in impressions)  # karazuri and leaf wet no sheet
    if inked > MANY_IMPRESSIONS:
        message = f"{inked} impressions are many: each one wets the sheet again and can drift. "
        message += "Merge near colours, or ask for fewer ([design] colours)."
        remarks.append(Finding(code="many-impressions", severity="warn", message=message))
    for impression in impressions:
        place, name = work.largest(np.array(impression.shapes)), _opening(impression.name)
        about = (("colour", impression.name),)
        if impression.area.area < SMALL_IMPRESSION_MM2 and impression.kind != "leaf":
            message = (
                f"{name} prints only {impression.area.area:.1f} mm²; it may not be worth a block of its own. "
                "Merge it into a near colour, or leave it."
            )
            remarks.append(Finding("small-impression", "note", message, place, about))
    return remarks


def _median_and_worst(differences: NDArray[np.float64], area_mm2: NDArray[np.float64]) -> tuple[float, float]:
    """The median by area and the largest difference; 0 where nothing is to be matched."""
    if not len(differences):
        return 0.0, 0.0
    median = np.quantile(differences, 0.5, weights=area_mm2, method="inverted_cdf")
    return float(median), float(differences.max())


def separate(design: Design, settings: SeparationTable, *, sheets: int = 1) -> Separation:
    """Make the impressions of a design, in printing order, each area with its traps.

    Paper is not printed (see :class:`~blockwright.separation.paper.PaperRule`). Every other colour is one
    impression, printed light to dark by L* unless ``settings.order`` says otherwise. Each area runs under its
    darker neighbours by the trap and never under a lighter one or over paper. Inks are mixed so that the
    planned passes give the colour on the bare paper. Names that match no printed colour become findings.

    Karazuri follows all inks, then leaf, whatever the order says; ``sheets`` are those that take leaf.
    Raises SettingsError when the leaves' lap is half a leaf or more.
    """
    work, findings = _prepare(design, PaperRule(design.paper_hex, settings.paper_within_delta_e00))
    named = NamedColours(design, work.printed)
    order, order_findings = printing_order(named, work.printed, settings.order)
    passes, traps, decision_findings = _passes_and_traps(named, settings)

    finishes = choose_finishes(work, settings)
    planned = finishes.leave_out(one_a_colour(work, order, passes, traps))
    covers, edges = _covered(work, planned), shared_edges(work.regions)
    areas = printing_areas(
        work.regions,
        covers=covers,
        rank=finishes.rank(work.rank),
        trap_mm=np.array([each.trap_mm for each in planned], dtype=np.float64),
        edges=edges,
    )
    inked = _impressions(planned, areas)
    impressions = (*inked, *finishing_impressions(work, finishes, inked))
    layings = lay_leaves(impressions, finishes, settings, sheets=sheets)
    matched = np.setdiff1d(np.arange(len(work.regions)), finishes.unmatched)
    differences = _differences(work, planned, covers)[matched]
    median, worst = _median_and_worst(differences, work.area_mm2[matched])
    bare = np.setdiff1d(np.flatnonzero(~covers.any(axis=0)), list(finishes.leaf))
    return Separation(
        impressions=impressions,
        paper_shapes=tuple(bare.tolist()),
        edges_mm=_edge_lengths(edges, covers),
        median_delta_e00=median,
        max_delta_e00=worst,
        findings=(
            *findings,
            *order_findings,
            *decision_findings,
            *finishes.findings,
            *_remarks(work, impressions),
            *leaf_remarks(layings),
        ),
        layings=layings,
        unmatched=finishes.unmatched,
    )

"""From a design's shapes to impressions in printing order: their areas with traps, and what they come to."""

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    lab_to_hex,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.model.design import Design, PaletteColour
from blockwright.model.findings import Finding
from blockwright.model.inks import Shelf
from blockwright.model.separation import Impression, KeyLine, Separation
from blockwright.model.settings import InksTable, SeparationTable
from blockwright.separation.counting import counted_whole
from blockwright.separation.edge_traps import as_asked, meet, report, smaller_than_trap
from blockwright.separation.edges import SharedEdges, shared_edges
from blockwright.separation.finishes import choose_finishes, finishing_impressions, without_names
from blockwright.separation.gilding import lay_leaves, leaf_remarks
from blockwright.separation.gradation_remarks import gradation_findings
from blockwright.separation.gradations import full_colour, run_differences
from blockwright.separation.graded_edges import graded_shapes, in_stretches
from blockwright.separation.key_line import find_key, lift, line_length_mm
from blockwright.separation.leaf_edges import find_leaf_edges, report_leaf, run_over, run_under_leaf
from blockwright.separation.order import NamedColours, by_lightness
from blockwright.separation.paper import PaperRule
from blockwright.separation.plan import Coloured, Planned, colours_of
from blockwright.separation.sketching import Sketchbook
from blockwright.separation.splitting import plan_with_splits
from blockwright.separation.traps import KeyShapes, printing_areas

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
    work = Coloured(design, regions, colour, shapely.area(regions), ())
    reasons = {c: rule.reason(_fullest(work, c)) for c in used}
    printed = by_lightness(design, (c for c in used if reasons[c] is None))
    work = replace(work, printed=tuple(printed))
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


def _fullest(work: Coloured, palette_colour: int) -> PaletteColour:
    """A colour as it is decided by: one that runs by its end that is farther from the paper."""
    colour, run = work.design.palette[palette_colour], work.run(palette_colour)
    if run is None:
        return colour
    lab = full_colour(run, work.design.paper_hex)
    return replace(colour, srgb_hex=lab_to_hex(lab), lab=lab)


def _covered(work: Coloured, planned: tuple[Planned, ...]) -> NDArray[np.bool_]:
    """Which impression prints which shape, traps left out: (impressions, shapes)."""
    covers = np.zeros((len(planned), len(work.regions)), dtype=np.bool_)
    for row, each in zip(covers, planned, strict=True):
        row[list(each.shapes)] = True
    return covers


def _impressions(
    work: Coloured, planned: tuple[Planned, ...], areas: tuple[shapely.MultiPolygon, ...]
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
            colours=colours_of(work, each.shapes),
            set_ink=each.set_ink,
            gradation=each.gradation,
            split_from=each.split_from,
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
    """CIEDE2000 between every shape's colour and what is printed or left for it, along a run the mean."""
    runs = [k for k, shape in enumerate(work.design.shapes) if shape.run is not None]
    patterns, which = np.unique(covers, axis=1, return_inverse=True)
    seen = np.tile(colour_reflectance(work.design.paper_hex), (patterns.shape[1], 1))
    for row, each in zip(patterns, planned, strict=True):
        seen[row] = layer_reflectance(each.ink.k, each.ink.s, float(each.passes), seen[row])
    wanted = np.array([colour.lab for colour in work.design.palette])
    # A shape that was lifted into the key is measured against its own colour.
    own = np.array([shape.colour for shape in work.design.shapes], dtype=np.int64)
    found = delta_e00(reflectance_to_lab(seen)[which.ravel()], wanted[own])
    found[runs] = [run_differences(work, planned, covers, k).mean() for k in runs]
    return found


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


def _key_line(
    work: Coloured, impressions: tuple[Impression, ...], key: int | None, widest_mm: float
) -> KeyLine | None:
    """What the impression of the key carries."""
    number = next((each.number for each in impressions if each.kind == "key"), None)
    if key is None or number is None:
        return None
    # What is split off the key is on a block of its own.
    own = np.array(impressions[number - 1].shapes)
    lifted = sum(work.design.shapes[k].colour != key for k in own.tolist())
    return KeyLine(number, line_length_mm(work.regions[own], widest_mm), widest_mm, lifted)


def separate(
    design: Design,
    settings: SeparationTable,
    *,
    inks: InksTable | None = None,
    shelf: Shelf | None = None,
    sheets: int = 1,
    book: Sketchbook | None = None,
) -> Separation:
    """Make the impressions of a design, in printing order, each area with its traps.

    Paper is not printed (see :class:`~blockwright.separation.paper.PaperRule`), nor what gets leaf or is
    embossed in place of its colour. Line work is lifted into the key. Every other colour is one impression,
    or with ``settings.blocks = "fewest"`` the colours are given by the fewest blocks that are found, from
    what is on the ``shelf`` and as ``inks`` allows. They are printed light to dark by L* unless
    ``settings.order`` says otherwise. Each area runs under its darker neighbours, and under leaf, by the trap
    of each edge, made for the register of ``settings.register_mm``, and never under a lighter one or over
    paper; under the key's lines it goes to their middle. Inks are mixed so that the planned passes give the
    colour. A colour that runs is printed as :mod:`blockwright.separation.gradations` says. Names and places
    that mean nothing printed become findings.

    Karazuri follows all inks, then leaf, whatever the order says; ``sheets`` are those that take leaf.
    ``book`` keeps the plans of a search, and has those to make a sketch from. Raises SettingsError when the
    leaves' lap is half a leaf or more.
    """
    whole, findings = _prepare(design, PaperRule(design.paper_hex, settings.paper_within_delta_e00))
    finishes = choose_finishes(whole, settings)
    work = finishes.leave_out(whole)
    settings = without_names(settings, NamedColours(design, whole.printed), work)
    edges = shared_edges(work.regions)
    key, key_findings = find_key(work, NamedColours(design, work.printed), settings)
    if key is not None:
        work = lift(work, key, edges, settings)
    plan = plan_with_splits(work, edges, settings, inks or InksTable(), shelf or Shelf(), key=key, book=book)
    planned = plan.planned
    covers = _covered(work, planned)
    edges = in_stretches(edges, graded_shapes(planned, len(work.regions)))
    gilt, edge_traps, leaf_findings = find_leaf_edges(
        work, planned, covers, edges, finishes=finishes, settings=settings
    )
    settings = settings.model_copy(update={"edge_trap": edge_traps})
    met, edge_findings = meet(work, planned, covers, edges, key=key, settings=settings)
    trap_mm, closes, turned = as_asked(met, edges, planned, settings)
    areas = printing_areas(
        work.regions,
        covers=covers,
        rank=finishes.rank(work.rank),
        trap_mm=run_under_leaf(trap_mm, gilt, planned, settings),
        edges=edges,
        key=None if key is None else KeyShapes(work.printed_in([key]), settings.widest_line_mm),
        closes=closes,
        turned=turned,
    )
    inked = _impressions(work, planned, areas)
    finishing = run_over(finishing_impressions(work, finishes, inked), work, gilt, edges)
    impressions = (*inked, *finishing)
    layings = lay_leaves(impressions, finishes, settings, sheets=sheets)
    matched = np.setdiff1d(np.arange(len(work.regions)), finishes.unmatched)
    differences = _differences(work, planned, covers)[matched]
    median, worst = _median_and_worst(differences, work.area_mm2[matched])
    bare = np.setdiff1d(np.flatnonzero(~covers.any(axis=0)), list(finishes.leaf))
    overprints = plan.overprints
    if overprints is not None:
        overprints = counted_whole(overprints, plan.films, inked, finishing)
    return Separation(
        impressions=impressions,
        paper_shapes=tuple(bare.tolist()),
        edges_mm=_edge_lengths(edges, covers),
        median_delta_e00=median,
        max_delta_e00=worst,
        findings=(
            *findings,
            *key_findings,
            *plan.findings,
            *edge_findings,
            *leaf_findings,
            *gradation_findings(work, planned, within=settings.paper_within_delta_e00),
            *finishes.findings,
            *_remarks(work, impressions),
            *smaller_than_trap(work, met, edges),
            *leaf_remarks(layings),
        ),
        edges=(
            *report(work, met, edges, key=key, settings=settings),
            *report_leaf(work, gilt, edges, impressions, settings=settings),
        ),
        key=_key_line(work, impressions, key, settings.widest_line_mm),
        overprints=overprints,
        layings=layings,
        unmatched=finishes.unmatched,
    )

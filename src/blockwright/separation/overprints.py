"""Impressions that lie over one another: fewer blocks than colours, as a search of overprints finds them."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from blockwright.colour import (
    colour_name,
    colour_reflectance,
    delta_e00,
    lab_to_hex,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.model.design import PaletteColour
from blockwright.model.findings import Finding
from blockwright.model.inks import Shelf
from blockwright.model.separation import CurvePoint, Ink, OutOfReach, Overprints, SetInk
from blockwright.model.settings import InksTable, SeparationTable
from blockwright.model.units import Lab
from blockwright.separation.asked import WITHIN, Asked, Plan
from blockwright.separation.coats import Coat, Paintbox
from blockwright.separation.counting import Films
from blockwright.separation.edges import SharedEdges
from blockwright.separation.finishing import apart_if_can_be, carved_mm, finished, printed_in, solids_in_a_row
from blockwright.separation.lying import lies_over, other_light_remarks
from blockwright.separation.order import NamedColours, passes_and_traps, printing_order
from blockwright.separation.plan import Coloured, Planned
from blockwright.separation.question import ask
from blockwright.separation.remarks import remarks_on
from blockwright.separation.searching import Found, Point
from blockwright.separation.sketching import Sketchbook

_Edges = Mapping[tuple[int, int], float]


@dataclass(frozen=True, slots=True)
class Overprinted:
    """The impressions of a plan, what the search found, and for each point of its curve the films."""

    planned: tuple[Planned, ...]
    overprints: Overprints | None
    films: tuple[Films, ...]
    findings: tuple[Finding, ...]


def overprinted(
    work: Coloured,
    edges: SharedEdges,
    settings: SeparationTable,
    inks: InksTable,
    shelf: Shelf,
    *,
    beside: int = 0,
    book: Sketchbook | None = None,
) -> Overprinted:
    """The impressions of the fewest blocks that were found, or of as many as the printmaker asks for.

    Each is to be printed with the very ink that its overprints were reckoned with. ``beside`` is how many
    colours are printed by themselves and take no part; ``book`` has plans to sketch from, and keeps those
    that are found.
    """
    book = book or Sketchbook()
    question, findings = ask(work, settings, inks, shelf)
    box, found = question.box, book.answer(question)
    asked = found.held(question.asked)
    if not found.points:
        return _nothing_found(work, settings, findings)
    taken = _taken(found, settings.block_count)
    lengths = colour_edges(work, edges)
    chosen = settings.block_count is not None
    plan = finished(taken.plan, asked, box, edges_mm=lengths, stacks_stay=found.sketched, as_told=chosen)
    book.keep(question, found, taken, plan)
    share = _image_shares(work)
    plan = apart_if_can_be(plan, asked, share)
    names = _names(work, asked, plan, [each.name for each in settings.split if each.name])
    named = _as_colours(work, asked, plan, names)
    order, order_findings = printing_order(named, named.printed, settings.order)
    if order != list(range(len(names))):
        plan, names = printed_in(plan, asked, order), [names[k] for k in order]
        named = _as_colours(work, asked, plan, names)
    usual = {k: coat.passes for k, coat in enumerate(plan.coats)}
    passes, traps, decided = passes_and_traps(named, settings, usual)
    planned = tuple(
        _planned(work, asked, plan, k, names[k], box, passes[k], traps[k]) for k in range(len(plan.coats))
    )
    ideal = box is not None and box.ideal
    summary = _summary(work, asked, found, plan, names, lengths, ideal=ideal)
    solids = solids_in_a_row(plan, share)
    told = remarks_on(work, settings, asked, found, plan, summary, solids, beside=beside)
    films = tuple(_films(work, each) for _, each in _curve(found, plan))
    lights = other_light_remarks(work, summary.lies_over)
    return Overprinted(planned, summary, films, (*findings, *order_findings, *decided, *told, *lights))


def _nothing_found(work: Coloured, settings: SeparationTable, findings: list[Finding]) -> Overprinted:
    """One block a colour after all, where not even that can be made from the inks at hand as decided."""
    from blockwright.separation.plan import one_a_colour

    named = NamedColours(work.design, work.printed)
    order, order_findings = printing_order(named, work.printed, settings.order)
    passes, traps, decided = passes_and_traps(named, settings, dict.fromkeys(work.printed, 1))
    message = "No overprints give these colours with the inks at hand and what was decided to lie over what; "
    message += "every colour has a block of its own. Allow more inks ([separation] overprint_inks), more "
    message += "layers (most_layers), or take an overprint back."
    none = Finding("overprints-none", "warn", message)
    planned = one_a_colour(work, order, passes, traps)
    return Overprinted(planned, None, (), (*findings, *order_findings, *decided, none))


def _taken(found: Found, blocks: int | None) -> Point:
    """The point of the curve that is asked for, or the fewest within the limits, or else the nearest."""
    if blocks is not None:
        return min(found.points, key=lambda point: (abs(point.plan.blocks - blocks), point.strain))
    if found.fewest is not None:
        return found.points[found.fewest]
    return min(found.points, key=lambda point: point.strain)


def colour_edges(work: Coloured, edges: SharedEdges) -> dict[tuple[int, int], float]:
    """The length of common edge of each pair of printed colours, the lightest being 0 and the paper -1."""
    rank = work.rank
    one, other = rank[edges.first], rank[edges.second]
    low, high = np.minimum(one, other), np.maximum(one, other)
    found: defaultdict[tuple[int, int], float] = defaultdict(float)
    for a, b, length_mm in zip(low.tolist(), high.tolist(), edges.length_mm.tolist(), strict=True):
        if a != b:
            found[a, b] += length_mm
    return {pair: round(mm, 3) for pair, mm in sorted(found.items())}


def _image_shares(work: Coloured) -> list[float]:
    whole = work.design.width_mm * work.design.height_mm
    return [float(work.area_mm2[work.shapes_of(c)].sum()) / whole for c in work.printed]


def _alone(asked: Asked, coat: Coat) -> Lab:
    """What a coat looks like on the bare paper."""
    lightness, a, b = reflectance_to_lab(layer_reflectance(coat.k, coat.s, 1.0, asked.paper)).tolist()
    return lightness, a, b


def _names(work: Coloured, asked: Asked, plan: Plan, kept_free: Sequence[str]) -> list[str]:
    """A name for every coat: that of the colour which it gives by itself, or else what it looks like."""
    palette = work.design.palette
    own = {
        stack[0]: palette[work.printed[colour]].name
        for colour, stack in enumerate(plan.stacks)
        if len(stack) == 1
    }
    taken = {name.casefold() for name in (*(colour.name for colour in palette), *kept_free)}
    names = []
    for k, coat in enumerate(plan.coats):
        name = own.get(k)
        if name is None:
            plain = coat.taken.name if coat.taken is not None else colour_name(_alone(asked, coat))
            name = next(each for each in _alike(plain) if each.casefold() not in taken)
        taken.add(name.casefold())
        names.append(name)
    return names


def _alike(name: str) -> list[str]:
    """A name and others like it, as many as can be needed."""
    return [name, f"{name} beneath", *(f"{name} beneath {number}" for number in range(2, 100))]


def _as_colours(work: Coloured, asked: Asked, plan: Plan, names: Sequence[str]) -> NamedColours:
    """The impressions as colours with names, for settings that speak of them."""
    labs = [_alone(asked, coat) for coat in plan.coats]
    palette = tuple(PaletteColour(name, lab_to_hex(lab), lab) for name, lab in zip(names, labs, strict=True))
    return NamedColours(replace(work.design, palette=palette, shapes=()), tuple(range(len(names))))


def _planned(
    work: Coloured,
    asked: Asked,
    plan: Plan,
    k: int,
    name: str,
    box: Paintbox | None,
    passes: int,
    trap_mm: float,
) -> Planned:
    coat = plan.coats[k]
    if box is not None and coat.taken is None and passes != coat.passes:
        coat = box.in_passes(coat, passes)
    lab = _alone(asked, coat)
    return Planned(
        name=name,
        kind="colour",
        ink=Ink(
            name=name if coat.taken is None else coat.taken.name,
            k=tuple((coat.k / passes).tolist()),
            s=tuple((coat.s / passes).tolist()),
        ),
        passes=passes,
        shapes=_shapes(work, plan.patterns[k]),
        trap_mm=trap_mm,
        srgb_hex=lab_to_hex(lab),
        lab=lab,
        set_ink=_set_ink(coat, box),
    )


def _set_ink(coat: Coat, box: Paintbox | None) -> SetInk | None:
    """What the impression must be printed with; an ink that is mixed to match is told by its colour alone."""
    if coat.taken is not None:
        return SetInk(shelf_number=coat.taken.number)
    if box is None or box.ideal:
        return None
    parts = box.recipe(coat)
    return SetInk(parts=parts, paste_share=1.0 - sum(part.share for part in parts))


def _curve(found: Found, plan: Plan) -> list[tuple[int, Plan]]:
    """The plans of the curve by their blocks; ``plan`` is what became of the one that was taken."""
    plans = {each.plan.blocks: each.plan for each in found.points} | {plan.blocks: plan}
    return sorted(plans.items())


def _films(work: Coloured, plan: Plan) -> Films:
    """The shapes that each coat of a plan prints."""
    return tuple(_shapes(work, pattern) for pattern in plan.patterns)


def _shapes(work: Coloured, pattern: Sequence[int]) -> tuple[int, ...]:
    shapes = np.concatenate([work.shapes_of(work.printed[colour]) for colour in pattern])
    return tuple(np.sort(shapes).tolist())


def _summary(
    work: Coloured,
    asked: Asked,
    found: Found,
    plan: Plan,
    names: Sequence[str],
    edges_mm: _Edges,
    *,
    ideal: bool,
) -> Overprints:
    fewest = None if found.fewest is None else found.points[found.fewest].plan.blocks
    return Overprints(
        colours=len(asked.targets),
        blocks=plan.blocks,
        curve=tuple(
            CurvePoint(
                blocks=blocks,
                impressions=len(each.coats),
                all_blocks=blocks,
                all_impressions=len(each.coats),
                median_delta_e00=_median(work, each),
                max_delta_e00=float(each.delta_e00.max()),
                reached_max_delta_e00=float(each.delta_e00[~asked.out_of_reach].max(initial=0.0)),
                edge_mm=round(carved_mm(each, edges_mm), 1),
                within=asked.strain(each.delta_e00) <= WITHIN,
                proven=found.proven and blocks == fewest,
            )
            for blocks, each in _curve(found, plan)
        ),
        lies_over=lies_over(work, asked, plan, names, ideal=ideal),
        lower_bound=found.lower_bound,
        tried_bound=found.tried_bound,
        tried=found.tried,
        proven=found.proven,
        out_of_reach=tuple(
            OutOfReach(
                colour=work.design.palette[work.printed[colour]].name,
                # A plan may come a hair nearer than the colour did by itself.
                best_delta_e00=min(found.reach[colour].delta_e00, float(plan.delta_e00[colour])),
                delta_e00=float(plan.delta_e00[colour]),
                tried=found.reach[colour].tried,
            )
            for colour in np.flatnonzero(asked.out_of_reach).tolist()
        ),
    )


def _median(work: Coloured, plan: Plan) -> float:
    """The median difference by area over all that is flat, what is left as paper included.

    Shapes that are not to have their colour, as they get leaf or are only embossed, do not count.
    """
    palette = work.design.palette
    paper = reflectance_to_lab(colour_reflectance(work.design.paper_hex))
    apart = delta_e00(paper, np.array([colour.lab for colour in palette]))
    apart[list(work.printed)] = plan.delta_e00
    flat = np.array([shape.run is None for shape in work.design.shapes])
    flat[list(work.unmatched)] = False
    if not flat.any():
        return 0.0
    of_shapes = apart[work.colour[flat]]
    return float(np.quantile(of_shapes, 0.5, weights=work.area_mm2[flat], method="inverted_cdf"))

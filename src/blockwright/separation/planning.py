"""The impressions of a design in printing order, as decided, before their areas are drawn."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from blockwright.model.findings import Finding
from blockwright.model.inks import Shelf
from blockwright.model.separation import Overprints
from blockwright.model.settings import InksTable, SeparationTable
from blockwright.separation.counting import Films
from blockwright.separation.edges import SharedEdges
from blockwright.separation.gradations import in_order, plan_gradation
from blockwright.separation.order import NamedColours, passes_and_traps, printing_order
from blockwright.separation.overprints import overprinted
from blockwright.separation.plan import Coloured, Planned, one_a_colour
from blockwright.separation.sketching import Sketchbook


@dataclass(frozen=True, slots=True)
class Plan:
    """The impressions in printing order, what a search of overprints found, and what is to be said.

    ``films`` are the shapes that the films of each point of its curve print; of the flat colours alone, until
    :mod:`blockwright.separation.splitting` puts the others beside them.
    """

    planned: tuple[Planned, ...]
    overprints: Overprints | None
    findings: tuple[Finding, ...]
    films: tuple[Films, ...] = ()


def plan_impressions(
    work: Coloured,
    edges: SharedEdges,
    settings: SeparationTable,
    inks: InksTable,
    shelf: Shelf,
    *,
    key: int | None,
    book: Sketchbook | None = None,
) -> Plan:
    """Plan the impressions with the order, passes and traps that are decided.

    A colour that runs has impressions of its own, and so has the key. The others have one each, or with
    ``settings.blocks = "fewest"`` those of the fewest blocks that are found for them, or that ``book`` has.
    """
    if settings.blocks == "fewest" and any(work.run(c) is None and c != key for c in work.printed):
        return _fewest(work, edges, settings, inks, shelf, key, book)
    named = NamedColours(work.design, work.printed)
    order, order_findings = printing_order(named, work.printed, settings.order)
    passes, traps, findings = passes_and_traps(named, settings, dict.fromkeys(work.printed, 1))
    runs = [c for c in order if work.run(c) is not None]
    flat = one_a_colour(work, [c for c in order if c not in runs], passes, traps, key=key)
    graded = {c: _graded(work, c, passes[c], traps[c], settings) for c in runs}
    planned = in_order(work, order, flat, graded, decided=settings.order)
    return Plan(planned, None, (*order_findings, *findings))


def _fewest(
    work: Coloured,
    edges: SharedEdges,
    settings: SeparationTable,
    inks: InksTable,
    shelf: Shelf,
    key: int | None,
    book: Sketchbook | None,
) -> Plan:
    """The fewest blocks for the flat colours, and among them the key and the impressions of what runs.

    Line work is printed from one block: given by several, it would show every drift.
    """
    named = NamedColours(work.design, work.printed)
    alone = [c for c in work.printed if c == key or work.run(c) is not None]
    together = replace(work, printed=tuple(c for c in work.printed if c not in alone))
    ours, of_alone = _apart(settings, named, alone)
    flat = overprinted(together, edges, ours, inks, shelf, beside=len(alone), book=book)
    passes, traps, own_findings = passes_and_traps(named, of_alone, dict.fromkeys(work.printed, 1))
    planned = list(flat.planned)
    for c in alone:
        if work.run(c) is None:
            _insert(planned, one_a_colour(work, [c], passes, traps, key=key))
        else:
            _insert(planned, _graded(work, c, passes[c], traps[c], settings))
    ordered = _as_ordered(planned, settings.order)
    return Plan(ordered, flat.overprints, (*flat.findings, *own_findings), flat.films)


def _apart(
    settings: SeparationTable, named: NamedColours, alone: Sequence[int]
) -> tuple[SeparationTable, SeparationTable]:
    """Order, passes and traps as decided for what is printed together, and for what is not."""

    def stands_alone(name: str) -> bool:
        return named.find(name) in alone

    def only(of_alone: bool) -> SeparationTable:
        return settings.model_copy(
            update={
                "order": tuple(name for name in settings.order if stands_alone(name) == of_alone),
                "passes": tuple(each for each in settings.passes if stands_alone(each.colour) == of_alone),
                "trap": tuple(each for each in settings.trap if stands_alone(each.colour) == of_alone),
            }
        )

    return only(of_alone=False), only(of_alone=True)


def _graded(
    work: Coloured, colour: int, passes: int, trap_mm: float, settings: SeparationTable
) -> tuple[Planned, ...]:
    """The impressions of a colour that runs; passes may be decided for either by its own name."""
    own = {decision.colour.strip().casefold(): decision.times for decision in settings.passes}
    run = work.run(colour)
    assert run is not None
    return plan_gradation(
        work,
        colour,
        run,
        passes=lambda name, _: own.get(name.casefold(), passes),
        trap_mm=trap_mm,
        within=settings.paper_within_delta_e00,
    )


def _insert(planned: list[Planned], films: Sequence[Planned]) -> None:
    """Put the impressions of a run among the others, each before the first that is darker, in their order.

    The order of the others stays: what lies over what was reckoned with it.
    """
    least = 0
    for film in films:
        darker = (k for k, each in enumerate(planned) if k >= least and each.lab[0] < film.lab[0])
        place = next(darker, len(planned))
        planned.insert(place, film)
        least = place + 1


def _as_ordered(planned: Sequence[Planned], wanted: Sequence[str]) -> tuple[Planned, ...]:
    """Those that the printmaker names come first, in that order; a name means both impressions of a run."""
    names = [name.strip().casefold() for name in wanted]
    runs = {each.name.casefold().rpartition(", ")[0] for each in planned if each.gradation is not None} - {""}

    def place(each: Planned) -> int:
        whole = {each.name.casefold().rpartition(", ")[0]} & runs
        called = {each.name.casefold(), each.srgb_hex.lower(), *whole}
        return next((k for k, name in enumerate(names) if name in called), len(names))

    return tuple(sorted(planned, key=place))

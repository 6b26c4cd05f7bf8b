"""Shapes that are printed by an impression of their own, split off the one that gives their colour."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from blockwright.model.findings import Finding
from blockwright.model.inks import Shelf
from blockwright.model.separation import Ink
from blockwright.model.settings import InksTable, SeparationTable, SplitAt
from blockwright.separation.counting import Films, with_others
from blockwright.separation.edges import SharedEdges
from blockwright.separation.gradations import OVER_A_FLAT, TWO_INKS
from blockwright.separation.plan import Coloured, Planned
from blockwright.separation.planning import Plan, plan_impressions
from blockwright.separation.sketching import Sketchbook

_NTH = ("second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
"""What is added to a colour's name for its impressions after the first."""

_LONGEST_NAME = 60
"""Characters of a name that is made: what a name in print.toml may have."""


@dataclass(frozen=True, slots=True)
class Split:
    """Shapes of one palette colour that are printed by themselves, and what that impression is called."""

    name: str
    colour: int
    shapes: tuple[int, ...]

    @property
    def called(self) -> str:
        """The name as settings are compared with it."""
        return _folded(self.name)


def plan_with_splits(
    work: Coloured,
    edges: SharedEdges,
    settings: SeparationTable,
    inks: InksTable,
    shelf: Shelf,
    *,
    key: int | None,
    book: Sketchbook | None = None,
) -> Plan:
    """The impressions as :func:`~blockwright.separation.planning.plan_impressions` has them, then split.

    A split comes directly after the impression that it is split off, and is printed like that one, but for
    what order, passes and traps say of it by its own name. Where several impressions over one another give
    the colour, the topmost is the one that is split.
    """
    splits, findings = find_splits(work, edges, settings.split)
    if not splits:
        plan = plan_impressions(work, edges, settings, inks, shelf, key=key, book=book)
        films = _all_films(work, plan, key, ())
        return replace(plan, findings=(*plan.findings, *findings), films=films)
    plan = plan_impressions(work, edges, _of_the_others(settings, splits), inks, shelf, key=key, book=book)
    planned = list(plan.planned)
    for split in splits:
        _split_off(planned, split, settings)
    return replace(
        plan,
        planned=_as_ordered(planned, splits, settings.order),
        findings=(*plan.findings, *findings),
        films=_all_films(work, plan, key, splits),
    )


def _all_films(work: Coloured, plan: Plan, key: int | None, splits: Sequence[Split]) -> tuple[Films, ...]:
    """The films of each point of the curve with all that is printed beside the flat colours."""
    by_itself = {c for c in work.printed if c == key or work.run(c) is not None}
    alone = tuple(each.shapes for each in plan.planned if work.colour[each.shapes[0]] in by_itself)
    own = tuple(each.shapes for each in splits)
    return tuple(with_others(films, alone, own) for films in plan.films)


def find_splits(
    work: Coloured, edges: SharedEdges, wanted: Sequence[SplitAt]
) -> tuple[tuple[Split, ...], list[Finding]]:
    """The splits as decided, in the order of ``print.toml``; entries of one name and colour are one.

    Line work that was lifted into the key goes with the shape of the key that it is joined to, or the two
    could drift apart. An entry that means nothing becomes a finding: at no printed shape, at one whose
    colour runs or that is split off already, at the last shape that its colour has left, or under a name that
    means another thing.
    """
    splits: dict[str, Split] = {}
    findings: list[Finding] = []
    if not wanted:
        return (), findings
    taken = set(_names_taken(work))
    piece = _pieces(work, edges)
    reserved = taken | {_folded(each.name) for each in wanted if each.name}
    for each in wanted:
        shape = _shape_at(work, each.at)
        own = () if shape < 0 else tuple(np.flatnonzero(piece == piece[shape]).tolist())
        if why := _why_not(work, own, each, splits):
            findings.append(_misses(each, why))
            continue
        colour = int(work.colour[shape])
        name = (each.name or "").strip() or _made_name(work, colour, reserved | set(splits))
        earlier = splits.get(_folded(name))
        if _folded(name) in taken or (earlier is not None and earlier.colour != colour):
            findings.append(_name_taken(work, each, name, earlier))
            continue
        shapes = (*(earlier.shapes if earlier is not None else ()), *own)
        splits[_folded(name)] = Split(earlier.name if earlier is not None else name, colour, shapes)
    return tuple(splits.values()), findings


def _folded(name: str) -> str:
    return name.strip().casefold()


def _names_taken(work: Coloured) -> Iterator[str]:
    """Names that mean colours of the design, or one of the two impressions of a run."""
    for c, colour in enumerate(work.design.palette):
        yield colour.name.casefold()
        yield colour.srgb_hex.lower()
        if work.run(c) is not None:
            yield from (f"{colour.name.casefold()}, {word}" for word in (*OVER_A_FLAT, *TWO_INKS))


def _made_name(work: Coloured, colour: int, taken: set[str]) -> str:
    own = work.design.palette[colour].name
    for nth in (*_NTH, *(f"impression {number}" for number in range(len(_NTH) + 2, len(taken) + 20))):
        name = own[: _LONGEST_NAME - len(nth) - 2] + f", {nth}"
        if name.casefold() not in taken:
            break
    return name


def _shape_at(work: Coloured, place: tuple[float, float]) -> int:
    """The shape under a place, a printed one where several meet; -1 for none."""
    held = np.flatnonzero(shapely.intersects_xy(work.regions, *place))
    printed = held[np.isin(work.colour[held], work.printed)]
    return int(next(iter(printed), next(iter(held), -1)))


def _pieces(work: Coloured, edges: SharedEdges) -> NDArray[np.int64]:
    """For every shape the number of the piece that it is printed in: shapes of one colour that join."""
    join = work.colour[edges.first] == work.colour[edges.second]
    pairs = (np.ones(int(join.sum())), (edges.first[join], edges.second[join]))
    _, piece = connected_components(coo_array(pairs, shape=(len(work.regions),) * 2), directed=False)
    return np.asarray(piece, dtype=np.int64)


def _why_not(work: Coloured, shapes: tuple[int, ...], edit: SplitAt, splits: dict[str, Split]) -> str | None:
    """Why shapes cannot be split off, as the end of a sentence; None where they can."""
    design = work.design
    x, y = edit.at
    if not shapes:
        inside = 0.0 <= x <= design.width_mm and 0.0 <= y <= design.height_mm
        size = f"{design.width_mm:g} x {design.height_mm:g} mm"
        return "no shape lies there" if inside else f"that lies outside the picture, which is {size}"
    colour = int(work.colour[shapes[0]])
    if colour not in work.printed:
        return "that is bare paper, which nothing prints"
    name = design.palette[colour].name
    if work.run(colour) is not None:
        return f"the colour there, {name}, runs, and its impressions are not split; make it flat first"
    earlier = next((each for each in splits.values() if shapes[0] in each.shapes), None)
    if earlier is not None:
        return f"an earlier entry has that shape printed by {earlier.name} already"
    gone = sum(len(each.shapes) for each in splits.values() if each.colour == colour)
    if gone + len(shapes) == len(work.shapes_of(colour)):
        only = "the only shape" if not gone else "the last shape"
        return f"that is {only} of {name}, and nothing would be left for its first impression"
    return None


def _misses(edit: SplitAt, why: str) -> Finding:
    message = (
        f"[[separation.split]] points at {edit.at[0]:g}, {edit.at[1]:g} mm; {why}. The line does nothing."
    )
    return Finding("split-misses", "warn", message, edit.at, (("edit", "split"),))


def _name_taken(work: Coloured, edit: SplitAt, name: str, earlier: Split | None) -> Finding:
    what = "a colour of the design"
    if earlier is not None:
        what = f"what is split off {work.design.palette[earlier.colour].name}"
    message = f'[[separation.split]] at {edit.at[0]:g}, {edit.at[1]:g} mm takes the name "{name}", which is '
    message += f"that of {what} already. The line does nothing; give it another name."
    return Finding("split-name-taken", "warn", message, edit.at, (("edit", "split"),))


def _of_the_others(settings: SeparationTable, splits: Sequence[Split]) -> SeparationTable:
    """What is decided for impressions that are no splits; names that the splits have are kept free."""
    called = {each.called for each in splits}
    return settings.model_copy(
        update={
            "order": tuple(name for name in settings.order if _folded(name) not in called),
            "passes": tuple(each for each in settings.passes if _folded(each.colour) not in called),
            "trap": tuple(each for each in settings.trap if _folded(each.colour) not in called),
            "split": tuple(SplitAt(at=(0.0, 0.0), name=each.name) for each in splits),
        }
    )


def _split_off(planned: list[Planned], split: Split, settings: SeparationTable) -> None:
    """Take the shapes of a split out of the topmost impression that prints them; they follow it directly."""
    first = split.shapes[0]
    place = max(k for k, each in enumerate(planned) if first in each.shapes and each.gradation is None)
    source = planned[place]
    passes = next(
        (p.times for p in settings.passes[::-1] if _folded(p.colour) == split.called), source.passes
    )
    trap_mm = next((t.mm for t in settings.trap[::-1] if _folded(t.colour) == split.called), source.trap_mm)
    planned[place] = replace(source, shapes=tuple(k for k in source.shapes if k not in split.shapes))
    beside = place + 1
    while beside < len(planned) and planned[beside].split_from == source.name:
        beside += 1
    planned.insert(beside, _own_impression(source, split, passes, trap_mm))


def _own_impression(source: Planned, split: Split, passes: int, trap_mm: float) -> Planned:
    """The impression of a split: in other passes the same film, so that the colour stays."""
    # The recipe of a film that was reckoned with holds for its passes only.
    stays = passes == source.passes or (
        source.set_ink is not None and source.set_ink.shelf_number is not None
    )
    share = source.passes / passes
    name = split.name if source.ink.name == source.name else source.ink.name
    return replace(
        source,
        name=split.name,
        kind="colour",
        ink=Ink(name, tuple(k * share for k in source.ink.k), tuple(s * share for s in source.ink.s)),
        passes=passes,
        shapes=tuple(sorted(split.shapes)),
        trap_mm=trap_mm,
        set_ink=source.set_ink if stays else None,
        split_from=source.name,
    )


def _as_ordered(
    planned: Sequence[Planned], splits: Sequence[Split], wanted: Sequence[str]
) -> tuple[Planned, ...]:
    """The splits that the order names where it has them: after all that it names before."""
    names = [_folded(name) for name in wanted]
    ordered = list(planned)
    for split in sorted((s for s in splits if s.called in names), key=lambda s: names.index(s.called)):
        own = next(each for each in ordered if each.name == split.name)
        ordered.remove(own)
        before = set(names[: names.index(split.called)])
        ordered.insert(
            1 + max((k for k, each in enumerate(ordered) if _called(each) & before), default=-1), own
        )
    return tuple(ordered)


def _called(each: Planned) -> set[str]:
    """What the order may call an impression: a split goes with the one that it is split off."""
    names = {each.name.casefold(), each.srgb_hex.lower()}
    if each.split_from is not None:
        names.add(each.split_from.casefold())
    if each.gradation is not None:
        names.add(each.name.casefold().rpartition(", ")[0] or each.name.casefold())
    return names

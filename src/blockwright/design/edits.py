"""The printmaker's own decisions about shapes, found again by a place in mm after every new trace."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.geometry.coverage import Coverage
from blockwright.geometry.merging import dissolve, neighbours
from blockwright.model.findings import Finding
from blockwright.model.settings import DesignTable, Drop, Merge, NameColour, Recolour
from blockwright.model.units import PointMm


@dataclass(frozen=True, slots=True)
class Edited:
    """A coverage, its colours as ``#rrggbb`` and the names given by hand ("" where none was given)."""

    coverage: Coverage
    hexes: tuple[str, ...]
    names: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


def _under(coverage: Coverage, at: PointMm) -> int | None:
    hits = shapely.STRtree(coverage.polygons).query(shapely.Point(at), predicate="intersects")
    return int(hits.min()) if len(hits) else None


def _missed(what: str, at: PointMm) -> Finding:
    return Finding(
        "edit-misses",
        "warn",
        f"print.toml: the {what} at [{at[0]:g}, {at[1]:g}] lies in no shape any more; "
        "move its place into a shape or take it out.",
        at,
        (("edit", what),),
    )


def _idle(what: str, at: PointMm) -> Finding:
    return Finding(
        "edit-does-nothing",
        "note",
        f"print.toml: the {what} at [{at[0]:g}, {at[1]:g}] changes nothing; it is that colour already. "
        "Take it out, or leave it.",
        at,
        (("edit", what),),
    )


def _with_labels(edited: Edited, labels: NDArray[np.uint8], changed: list[int]) -> Edited:
    return replace(edited, coverage=dissolve(Coverage(edited.coverage.polygons, labels), changed))


def _paint(edited: Edited, shapes: list[int], label: int) -> Edited:
    labels = edited.coverage.labels.copy()
    labels[shapes] = label
    return _with_labels(edited, labels, shapes)


def _same_colour(coverage: Coverage, label: int) -> list[int]:
    return [int(k) for k in np.flatnonzero(coverage.labels == label)]


def _drop(edited: Edited, edit: Drop) -> Edited | Finding:
    shape = _under(edited.coverage, edit.at)
    if shape is None:
        return _missed("drop", edit.at)
    around = neighbours(edited.coverage, shape)
    if not around:
        return Finding(
            "edit-does-nothing",
            "warn",
            "print.toml: a drop would take away the only shape there is. Take the drop out.",
            edit.at,
            (("edit", "drop"),),
        )
    widest = max(around, key=lambda pair: (pair[1], -pair[0]))[0]
    return _paint(edited, [shape], int(edited.coverage.labels[widest]))


def _merge(edited: Edited, edit: Merge) -> Edited | Finding:
    shape, target = _under(edited.coverage, edit.at), _under(edited.coverage, edit.into)
    if shape is None or target is None:
        return _missed("merge", edit.at if shape is None else edit.into)
    label = int(edited.coverage.labels[target])
    own = int(edited.coverage.labels[shape])
    if own == label:
        return _idle("merge", edit.at)
    return _paint(edited, _same_colour(edited.coverage, own) if edit.everywhere else [shape], label)


def _recolour(edited: Edited, edit: Recolour) -> Edited | Finding:
    shape = _under(edited.coverage, edit.at)
    if shape is None:
        return _missed("recolour", edit.at)
    own = int(edited.coverage.labels[shape])
    wanted = edit.to.lower()
    if wanted == edited.hexes[own]:
        return _idle("recolour", edit.at)
    if wanted in edited.hexes:
        label = edited.hexes.index(wanted)
        return _paint(edited, [shape] if edit.here else _same_colour(edited.coverage, own), label)
    if edit.here:
        added = replace(edited, hexes=(*edited.hexes, wanted), names=(*edited.names, ""))
        return _paint(added, [shape], len(edited.hexes))
    return replace(edited, hexes=tuple(wanted if k == own else h for k, h in enumerate(edited.hexes)))


def _name(edited: Edited, edit: NameColour) -> Edited | Finding:
    shape = _under(edited.coverage, edit.at)
    if shape is None:
        return _missed("name", edit.at)
    own = int(edited.coverage.labels[shape])
    if edit.name in edited.names and edited.names.index(edit.name) != own:
        return Finding(
            "name-twice",
            "warn",
            f'print.toml: two colours are named "{edit.name}"; the second keeps its own name. '
            "Give it another.",
            edit.at,
            (("edit", "name"),),
        )
    return replace(edited, names=tuple(edit.name if k == own else n for k, n in enumerate(edited.names)))


def apply_edits(coverage: Coverage, hexes: tuple[str, ...], settings: DesignTable) -> Edited:
    """Drop, merge, recolour and name shapes as ``print.toml`` says, in that order.

    An edit that cannot be done becomes a finding and leaves everything as it was.
    """
    steps: list[Callable[[Edited], Edited | Finding]] = [
        *(partial(_drop, edit=edit) for edit in settings.drop),
        *(partial(_merge, edit=edit) for edit in settings.merge),
        *(partial(_recolour, edit=edit) for edit in settings.recolour),
        *(partial(_name, edit=edit) for edit in settings.name),
    ]
    edited = Edited(coverage, hexes, ("",) * len(hexes))
    for step in steps:
        outcome = step(edited)
        if isinstance(outcome, Finding):
            edited = replace(edited, findings=(*edited.findings, outcome))
        else:
            edited = outcome
    return edited

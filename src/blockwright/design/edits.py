"""The printmaker's own decisions about shapes, found again by a place in mm after every new trace."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.design.colours import Colours
from blockwright.design.run_edits import with_edited_run
from blockwright.geometry.coverage import Coverage
from blockwright.geometry.merging import dissolve, neighbours
from blockwright.model.findings import Finding
from blockwright.model.settings import DesignTable, Drop, GradationAt, Merge, NameColour, Recolour
from blockwright.model.units import PointMm


@dataclass(frozen=True, slots=True)
class Edited:
    """A coverage, its colours, and what is to be said of the edits."""

    coverage: Coverage
    colours: Colours
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
    colours = edited.colours
    flat = {h: k for k, h in reversed(list(enumerate(colours.hexes))) if colours.runs[k] is None}
    if flat.get(wanted) == own:
        return _idle("recolour", edit.at)
    if wanted in flat:
        label = flat[wanted]
        return _paint(edited, [shape] if edit.here else _same_colour(edited.coverage, own), label)
    if edit.here:
        return _paint(replace(edited, colours=colours.added(wanted)), [shape], len(colours.hexes))
    # A gradation that is given one colour is flat paint from then on.
    return replace(edited, colours=colours.changed(own, srgb_hex=wanted))


def _gradate(edited: Edited, edit: GradationAt, *, paper_hex: str) -> Edited | Finding:
    shape = _under(edited.coverage, edit.at)
    if shape is None:
        return _missed("gradation", edit.at)
    own, polygons = int(edited.coverage.labels[shape]), edited.coverage.polygons
    alike = list(polygons[edited.coverage.labels == own])
    changed = with_edited_run(edited.colours, edit, own, polygons[shape], alike, paper_hex=paper_hex)
    if changed is None:
        flat = edited.colours.runs[own] is None
        why = "the colour there is flat" if flat else "the colour there runs so already"
        what = " Give a start and an end, or take it out." if flat and not edit.flat else " Take it out."
        message = (
            f"print.toml: the gradation at [{edit.at[0]:g}, {edit.at[1]:g}] changes nothing; {why}.{what}"
        )
        return Finding("edit-does-nothing", "note", message, edit.at, (("edit", "gradation"),))
    colours, label = changed
    edited = replace(edited, colours=colours)
    return edited if label == own else _paint(edited, [shape], label)


def _name(edited: Edited, edit: NameColour) -> Edited | Finding:
    shape = _under(edited.coverage, edit.at)
    if shape is None:
        return _missed("name", edit.at)
    own = int(edited.coverage.labels[shape])
    names = edited.colours.names
    if edit.name in names and names.index(edit.name) != own:
        return Finding(
            "name-twice",
            "warn",
            f'print.toml: two colours are named "{edit.name}"; the second keeps its own name. '
            "Give it another.",
            edit.at,
            (("edit", "name"),),
        )
    return replace(edited, colours=edited.colours.named(own, edit.name))


def apply_edits(coverage: Coverage, colours: Colours, settings: DesignTable, *, paper_hex: str) -> Edited:
    """Drop, merge, recolour, grade and name shapes as ``print.toml`` says, in that order.

    A gradation set by hand runs to the paper's colour unless another is given. An edit that cannot be done
    becomes a finding and leaves everything as it was.
    """
    steps: list[Callable[[Edited], Edited | Finding]] = [
        *(partial(_drop, edit=edit) for edit in settings.drop),
        *(partial(_merge, edit=edit) for edit in settings.merge),
        *(partial(_recolour, edit=edit) for edit in settings.recolour),
        *(partial(_gradate, edit=edit, paper_hex=paper_hex) for edit in settings.gradation),
        *(partial(_name, edit=edit) for edit in settings.name),
    ]
    edited = Edited(coverage, colours)
    for step in steps:
        outcome = step(edited)
        if isinstance(outcome, Finding):
            edited = replace(edited, findings=(*edited.findings, outcome))
        else:
            edited = outcome
    return edited

"""The station Design: the picture beside its shapes, the palette, and all one may say about a shape."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response

from blockwright.looking import Look, look
from blockwright.model.errors import BlockwrightError
from blockwright.model.units import PointMm
from blockwright.shapes import tell_shape
from blockwright.web import words
from blockwright.web.drawer import Opened, OpenedPrint
from blockwright.web.findings import shown
from blockwright.web.finishes import finish_of_shape
from blockwright.web.frame import frame, layer, respond, sheet
from blockwright.web.showing import show
from blockwright.web.splits import split_edits

router = APIRouter()

_LEADS = {"no-flat-colours", "one-colour"}
"""Findings that say what to do before anything else."""


@dataclass(frozen=True, slots=True)
class ShapeShown:
    """A shape as its sentence needs it; ``larger`` and ``smaller`` are places in the next of its colour."""

    at: PointMm
    name: str
    hex: str
    area: str
    narrowest: str
    nth: str
    larger: PointMm | None
    smaller: PointMm | None
    neighbours: list[dict[str, Any]]
    rings: list[list[list[float]]]


def _siblings(told: Mapping[str, Any], name: str) -> list[PointMm]:
    """A place in every shape of a colour, the largest shape first."""
    same = [shape for shape in told["shapes"] if shape["colour"] == name]
    return [_rounded(shape["at"]) for shape in sorted(same, key=lambda s: (-s["area_mm2"], s["at"]))]


def _nth(number: int, total: int) -> str:
    if total == 1:
        return words.TEXTS["shape_nth_one"]
    if number == 1:
        return words.fmt("shape_largest_many", number=total)
    return words.fmt("shape_nth_many", nth=words.nth(number), number=total)


def _rounded(place: PointMm) -> PointMm:
    """A place as addresses and forms carry it: a thousandth of a mm is nearer than any shape is narrow."""
    return round(place[0], 3), round(place[1], 3)


def _shape(request: Request, opened: OpenedPrint, found: Look, place: PointMm) -> ShapeShown | None:
    """What there is to say about the shape at a place, or None where there is none."""
    try:
        told = tell_shape(request.app.state.blockwright.tiles.design(opened.folder), place)
    except BlockwrightError:
        return None  # The shapes are just being made anew.
    if told is None:
        return None
    siblings = _siblings(found.stage("design").told or {"shapes": []}, told.name)
    at = _rounded(told.at)
    k = siblings.index(at) if at in siblings else 0
    return ShapeShown(
        at=at,
        name=told.name,
        hex=told.srgb_hex,
        area=words.area(told.area_mm2),
        narrowest=words.mm(told.narrowest_mm),
        nth=_nth(k + 1, max(1, len(siblings))),
        larger=siblings[k - 1] if k > 0 else None,
        smaller=siblings[k + 1] if k + 1 < len(siblings) else None,
        neighbours=[{"name": each.name, "at": _rounded(each.at)} for each in told.neighbours],
        rings=[[[round(x, 3), round(y, 3)] for x, y in ring] for ring in told.outline],
    )


def _palette(told: Mapping[str, Any]) -> list[dict[str, Any]]:
    rows = []
    for colour in told["palette"]:
        places = _siblings(told, colour["name"])
        if places:
            area = words.area(colour["area_mm2"])
            row = {"name": colour["name"], "hex": colour["hex"], "area": area}
            rows.append({**row, "count": colour["shapes"], "at": places[0]})
    return rows


def _at(place: PointMm) -> str:
    return f"{place[0]:.0f}, {place[1]:.0f}"


_WAY_WORDS = {"as fits": "fits", "one ink": "one", "over a flat": "flat", "futa-iro": "two"}


def _edit_said(key: str, edit: Any) -> str:
    match key:
        case "recolour":
            here = words.TEXTS["edit_here"] if edit.here else ""
            return words.fmt("edit_recolour", to=edit.to, here=here, at=_at(edit.at))
        case "merge":
            what = words.TEXTS["edit_merge_colour" if edit.everywhere else "edit_merge_shape"]
            return words.fmt("edit_merge", what=what, at=_at(edit.at), into=_at(edit.into))
        case "drop":
            return words.fmt("edit_drop", at=_at(edit.at))
        case "gradation":
            ends = (_at(edit.start), _at(edit.end)) if edit.start and edit.end else None
            if ends:
                return words.fmt("edit_gradation", at=_at(edit.at), start=ends[0], end=ends[1])
            if edit.printed and not (edit.ramp or edit.start_colour or edit.end_colour):
                way = words.TEXTS[f"gradation_way_{_WAY_WORDS[edit.printed]}"]
                return words.fmt("edit_way", at=_at(edit.at), way=way)
            return words.fmt("edit_flat" if edit.flat else "edit_ramp", at=_at(edit.at))
        case _:
            return words.fmt("edit_name", at=_at(edit.at), name=edit.name)


def _edits(found: Look, keys: tuple[str, ...]) -> list[dict[str, Any]]:
    """The hand edits so far, each with the act that takes it back; the latest first."""
    if found.settings is None:
        return []
    edits = []
    for key in keys:
        for index, edit in enumerate(getattr(found.settings.design, key)):
            # The number holds for the text that the page was made from, and for no other.
            fields = {
                "act": "take-back",
                "table": "design",
                "key": key,
                "index": index,
                "seen": found.text_hash,
            }
            edits.append({"said": _edit_said(key, edit), "fields": fields})
    return edits[::-1]


def _context(request: Request, opened: OpenedPrint, found: Look, place: PointMm | None) -> dict[str, Any]:
    told = found.stage("design").told
    if told is None or found.settings is None:
        return {"palette": [], "stops": ()}
    shape = _shape(request, opened, found, place) if place else None
    findings = shown(told["findings"], found, stage="design")
    lead = [each for each in findings if each.code in _LEADS]
    rest = [each for each in findings if each not in lead]
    figures = told["figures"]
    layers = [
        layer(request, opened, "picture", words.TEXTS["layer_picture"]),
        layer(request, opened, "shapes", words.TEXTS["layer_shapes"], seen=found),
    ]
    return {
        "state": found.stage("design").state,
        "palette": _palette(told),
        "shape_count": figures["shapes"],
        "shape": shape,
        "finish": finish_of_shape(found, shape.at) if shape else None,
        "missed": words.TEXTS["no_shape"] if place and not shape else None,
        "lead": lead,
        "findings": rest,
        "edits": [*split_edits(found)[::-1], *_edits(found, ("recolour", "merge", "drop", "gradation"))],
        "names": _edits(found, ("name",)),
        "locked": found.settings.design.palette is not None,
        "caption": words.fmt(
            "design_caption",
            width=words.figure(figures["width_mm"], 0),
            height=words.mm(figures["height_mm"]),
            name=words.TEXTS["design_sheet_short"],
        ),
        "sheet": sheet(
            found,
            layers,
            label=words.TEXTS["design_sheet"],
            pins=[each.pin() for each in findings if each.at],
            outline=shape.rings if shape else None,
        ),
    }


def _place(text: str | None) -> PointMm | None:
    """The place in the address, or None when there is none or it is no place."""
    try:
        x, y = (float(part) for part in (text or "").split(","))
    except ValueError:
        return None
    return x, y


@router.get("/print/{id}/design")
def design(request: Request, opened: Opened, at: str | None = None) -> Response:
    """The station; ``at=x,y`` (mm) has a shape chosen."""
    found = look(opened.folder)
    return respond(
        request, opened, found, here="design", context=_context(request, opened, found, _place(at))
    )


@router.get("/print/{id}/shape")
def shape(request: Request, opened: Opened, x: float, y: float) -> Response:
    """The part about the shape at a place (mm)."""
    found = look(opened.folder)
    there = _shape(request, opened, found, (x, y))
    if there and opened.may_write:
        # Who chooses a shape is about to do something with it.
        request.app.state.blockwright.jobs.warm(opened.folder)
    finish = finish_of_shape(found, there.at) if there else None
    context = {"shape": there, "finish": finish, "missed": None if there else words.TEXTS["no_shape"]}
    return show(request, "part_shape.html", **(frame(request, opened, found, here="design") | context))

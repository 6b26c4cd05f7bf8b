"""Blocks and overprints at the station Impressions: the curve to choose from, and what lies over what."""

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from markupsafe import Markup

from blockwright.documents.curve_svg import curve_svg
from blockwright.looking import Look
from blockwright.model.separation import CurvePoint
from blockwright.model.settings import SeparationTable
from blockwright.web import words

_Told = Mapping[str, Any]


def shown_overprints(found: Look, told: _Told, name: str) -> dict[str, Any]:
    """What the section shows; ``name`` is the impression that is chosen."""
    settings = found.settings.separation if found.settings else SeparationTable()
    places = _places(found)
    return {
        "curve": _curve(told, settings),
        "drawing": _drawing(told, settings),
        "worst": _worst(told),
        "own_count": settings.block_count is not None,
        "lies": _lies(told, name, places),
        "beneath": _beneath(told, name),
        "colours": sorted(places.items()),
        "edits": _edits(found, settings),
    }


def _points(told: _Told) -> list[CurvePoint]:
    names = {each.name for each in fields(CurvePoint)}
    # What an earlier version left behind tells less, until the next run.
    curve = [each for each in told.get("curve", ()) if names <= set(each)]
    return [CurvePoint(**{k: v for k, v in each.items() if k in names}) for each in curve]


def _curve(told: _Told, settings: SeparationTable) -> list[dict[str, Any]]:
    """The rows of the table, from few blocks to many."""
    taken = (told.get("overprints") or {}).get("blocks")
    return [
        {
            "blocks": point.blocks,
            "all_blocks": point.all_blocks,
            "all_impressions": point.all_impressions,
            "median": f"{point.median_delta_e00:.1f}",
            "worst": f"{point.reached_max_delta_e00:.1f}",
            "edge": f"{point.edge_mm / 1000.0:.1f}",
            "here": point.blocks == taken and settings.blocks == "fewest",
            "within": point.within,
        }
        for point in _points(told)
    ]


def _worst(told: _Told) -> str:
    """What the table's worst colour is: where some cannot be reached, the worst of the others."""
    far = (told.get("overprints") or {}).get("out_of_reach")
    return words.TEXTS["curve_worst_reached" if far else "curve_worst"]


def _drawing(told: _Told, settings: SeparationTable) -> Markup | None:
    """The curve, of our own figures only."""
    if not (points := _points(told)):
        return None
    taken = int((told.get("overprints") or {}).get("blocks", 0))
    drawn = curve_svg(points, taken=taken, limit_delta_e00=settings.worst_delta_e00)
    return Markup(drawn)


def _places(found: Look) -> dict[str, str]:
    """For every colour of the design a place in it, as a form sends it: in its largest shape."""
    largest: dict[str, tuple[float, str]] = {}
    for shape in (found.stage("design").told or {}).get("shapes", ()):
        area, at = float(shape["area_mm2"]), f"{shape['at'][0]},{shape['at'][1]}"
        if area > largest.get(shape["colour"], (0.0, ""))[0]:
            largest[shape["colour"]] = (area, at)
    return {name: at for name, (_, at) in largest.items()}


def _lies(told: _Told, name: str, places: Mapping[str, str]) -> list[dict[str, Any]]:
    """The colours that an impression ends, each as a sentence, and the act that forbids it."""
    said: list[dict[str, Any]] = []
    for each in (told.get("overprints") or {}).get("lies_over", ()):
        if each["inks"][-1] != name:
            continue
        colour, under = words.opening(each["colour"]), each["over"]
        if under is None:
            inks = words.listed(list(each["inks"]))
            more = words.fmt("lies_over_more", colour=colour, inks=inks)
            said.append({"said": f"{more} {_how_near(each)}".strip(), "fields": None})
            continue
        fields_: dict[str, str] | None = None
        if each["colour"] in places and under in places:
            at, over = places[each["colour"]], places[under]
            fields_ = {"act": "add-overprint", "at": at, "over": over, "lies": ""}
        one = words.fmt("lies_over_one", colour=colour, under=under)
        said.append({"said": f"{one} {_how_near(each)}".strip(), "fields": fields_})
    return said


def _how_near(each: Mapping[str, Any]) -> str:
    """How far an overprint is from the design by day and under other lights, as a sentence."""
    if "delta_e00" not in each:
        return ""  # an earlier version told less
    by_light = {light["light"]: f"{light['delta_e00']:.1f}" for light in each["other_lights"]}
    day = f"{each['delta_e00']:.1f}"
    if not by_light:
        return words.fmt("lies_near", day=day)
    return words.fmt("lies_near_lights", day=day, lamp=by_light["A"], shop=by_light["FL11"])


def _beneath(told: _Told, name: str) -> str | None:
    """The colours that an impression lies beneath, as a sentence."""
    lies = (told.get("overprints") or {}).get("lies_over", ())
    names = [each["colour"] for each in lies if name in each["inks"][:-1]]
    return words.fmt("beneath_others", names=words.listed(names)) if names else None


def _edits(found: Look, settings: SeparationTable) -> list[dict[str, Any]]:
    """The overprints decided so far, each with the act that takes it back."""
    edits = []
    for index, edit in enumerate(settings.overprint):
        fields_ = {
            "act": "take-back",
            "table": "separation",
            "key": "overprint",
            "index": index,
            "seen": found.text_hash,
        }
        text = "edit_overprint_yes" if edit.lies else "edit_overprint_no"
        said = words.fmt(text, at=_at(edit.at), over=_at(edit.over))
        edits.append({"said": said, "fields": fields_})
    return edits


def _at(place: Sequence[float]) -> str:
    return f"{place[0]:.0f}, {place[1]:.0f}\u00a0mm"

"""The station Impressions: the rack of sheets in printing order, and the sentence of the chosen one."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response

from blockwright.looking import Look, look
from blockwright.model.settings import SeparationTable
from blockwright.web import words
from blockwright.web.drawer import Opened, OpenedPrint
from blockwright.web.findings import FindingShown, shown
from blockwright.web.finishes import finish_shown
from blockwright.web.frame import layer, respond, sheet, thumb
from blockwright.web.key_and_traps import key_and_traps
from blockwright.web.splits import split_edits, split_said
from blockwright.web.station_blocks import stops
from blockwright.web.station_overprints import shown_overprints

router = APIRouter()

VIEWS = ("after", "alone", "under")
"""What the sheet shows of an impression."""


def _faces(found: Look) -> dict[int, tuple[str, str]]:
    """Board and side of every impression that has a face."""
    boards = (found.stage("blocks").told or {}).get("boards", ())
    return {
        number: (board["name"], face["name"].rsplit(" ", 1)[-1])
        for board in boards
        for face in board["faces"]
        for number in face["impressions"]
    }


def _face_said(face: tuple[str, str] | None, passes: int) -> str:
    said = [f"{face[0]} {words.TEXTS.get(f'side_{face[1]}', face[1])}"] if face else []
    if passes > 1:
        said.append(words.TEXTS[f"swatch_{passes}"])
    return " · ".join(said)


def _slug(name: str) -> str:
    return re.sub(r"[^0-9a-z]+", "-", name.lower()).strip("-") or "x"


def _href(name: str, view: str) -> str:
    return "?" + urlencode({"of": name, "see": view})


def _belongs(finding: FindingShown, impression: dict[str, Any]) -> bool:
    """Whether a finding speaks of an impression."""
    return finding.about.get("colour") in {impression["name"], *impression.get("colours", ())}


def _called(text: str, impression: dict[str, Any]) -> bool:
    """Whether a setting means this impression's colour, by its name or as #rrggbb."""
    return text.strip().casefold() in {impression["name"].casefold(), impression["hex"].casefold()}


def _own_or_source(entries: Sequence[Any], each: dict[str, Any], told: Mapping[str, Any]) -> Any:
    """The last entry that means an impression; one that was split off goes by its source, where none does."""
    source = next((i for i in told["impressions"] if i["name"] == each.get("split_from")), None)
    own = each if source is None else {**each, "hex": ""}
    found = next((e for e in entries[::-1] if _called(e.colour, own)), None)
    return _own_or_source(entries, source, told) if found is None and source is not None else found


def _as_decided(found: Look, told: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The impressions with order, passes and traps as they are decided now, be they worked out or not.

    ``place`` counts them in this order; ``number`` stays the one that they were worked out with.
    """
    settings = found.settings.separation if found.settings else SeparationTable()
    wanted = [name.strip().casefold() for name in settings.order]

    def place(each: dict[str, Any]) -> tuple[bool, int, int]:
        no_ink = each["ink"] is None
        names = [each["name"].casefold(), each["hex"].casefold()]
        if each.get("split_from") and names[0] in wanted:
            return no_ink, wanted.index(names[0]), each["number"]
        names.append((each.get("split_from") or each["name"]).casefold())
        ordered = min((wanted.index(n) for n in names if n in wanted), default=len(wanted))
        return no_ink, ordered, each["number"]

    decided = []
    for k, each in enumerate(sorted(told["impressions"], key=place)):
        usual = each["passes"] if told.get("overprints") else 1
        decided_passes = _own_or_source(settings.passes, each, told)
        passes = usual if decided_passes is None else decided_passes.times
        own = _own_or_source(settings.trap, each, told)
        trap = settings.trap_mm if own is None else own.mm
        now = {"place": k + 1, "passes": passes, "trap_mm": trap, "own_trap": own is not None}
        decided.append({**each, **now})
    return decided


def _row(each: dict[str, Any], told: dict[str, Any]) -> dict[str, Any]:
    """One line of the rack; every sheet has the size and version of the proof, which is the last of them."""
    picture = told["picture"]
    return {
        "number": each["place"],
        "name": each["name"],
        "inked": each["ink"] is not None,
        "slug": _slug(each["name"]),
        "href": _href(each["name"], told["view"]),
        "here": each["name"] == told["name"],
        "face": _face_said(told["faces"].get(each["number"]), each["passes"]),
        "asks": sum(f.severity != "note" and _belongs(f, each) for f in told["findings"]),
        "thumb": picture["src"].replace("/proof/", f"/after-{each['number']:02d}/") if picture else None,
        "thumb_width": picture["width"] if picture else None,
        "thumb_height": picture["height"] if picture else None,
    }


def _about(impressions: list[dict[str, Any]], k: int, face: tuple[str, str] | None) -> str:
    """Board, area, and what comes before and after."""
    each = impressions[k]
    said = []
    if face:
        side = words.TEXTS.get(f"side_{face[1]}", face[1])
        said.append(words.fmt("impression_face", board=face[0], side=side))
    said.append(words.area(each["area_mm2"]))
    between = [
        words.fmt("after_name", name=impressions[k - 1]["name"]) if k else words.TEXTS["first"],
        words.fmt("before_name", name=impressions[k + 1]["name"])
        if k + 1 < len(impressions)
        else words.TEXTS["last"],
    ]
    return " · ".join([*said, ", ".join(between)])


def _meets(each: dict[str, Any]) -> list[str]:
    """What runs under it and what it lies over, where the separation tells."""
    said = []
    for key, text in (("runs_under", "runs_under"), ("lies_over", "runs_over")):
        if names := list(each.get(key, ())):
            said.append(words.fmt(text, names=words.listed(names)))
    return said


def _ink(found: Look, number: int) -> tuple[list[str], str | None]:
    """How the ink of an impression looks in one pass to four, and which pot of the shelf it is taken from."""
    inks = (found.stage("inks").told or {"inks": ()})["inks"]
    ink = next((each for each in inks if each["impression"] == number), None)
    if ink is None:
        return [], None
    pot = words.fmt("ink_taken", number=ink["shelf_number"]) if ink["shelf_number"] else None
    return list(ink["swatches"][0]["hex"]), pot


_WAYS = (("", "fits"), ("one ink", "one"), ("over a flat", "flat"), ("futa-iro", "two"))
"""How a gradation may be printed, as ``print.toml`` says it, and the words for each."""


def _gradation(each: dict[str, Any]) -> dict[str, Any] | None:
    """How an impression is brushed out: its sentence, and the ends of its run to set."""
    told = each.get("gradation")
    if told is None:
        return None
    said = str(told["sentence"])
    ends = {
        f"{end}_{axis}": words.figure(told["run"][end][k], 1)
        for end in ("start", "end")
        for k, axis in enumerate("xy")
    }
    return {
        "sentence": said[:1].upper() + said[1:],
        "worst": words.figure(told["worst_delta_e00"], 1),
        "at": f"{told['at'][0]},{told['at'][1]}",
        "ends": ends,
        "curved": told["run"]["along_edge"],
        "round": told["run"].get("round"),
        "way": told.get("printed") or "",
        "ways": [(way, words.TEXTS[f"gradation_way_{key}"]) for way, key in _WAYS],
    }


def _chosen(found: Look, impressions: list[dict[str, Any]], k: int, faces: dict[int, Any]) -> dict[str, Any]:
    each = impressions[k]
    swatches, pot = _ink(found, each["number"])
    inked = sum(one["ink"] is not None for one in impressions)
    return {
        "inked": each["ink"] is not None,
        "finish": finish_shown(found, each),
        "number": each["place"],
        "name": each["name"],
        "ink": pot or each["ink"],
        "ink_href": f"inks?of={each['number']}",
        "passes": each["passes"],
        "trap": words.figure(each["trap_mm"], 3),
        "own_trap": each["own_trap"],
        "swatches": swatches or list(each.get("passes_hex", ())),
        "about": _about(impressions, k, faces.get(each["number"])),
        "meets": _meets(each),
        "split": split_said(each, impressions),
        "gradation": _gradation(each),
        "first": k == 0,
        "last": k + 1 >= inked,
    }


def _under_or_design(request: Request, opened: OpenedPrint, found: Look, number: int, view: str) -> list[Any]:
    """The layers of the sheet: what is asked for, with the design beyond the divider."""
    what = layer(request, opened, f"{view}-{number:02d}", words.TEXTS[f"layer_{view}"], seen=found)
    return [what, layer(request, opened, "shapes", words.TEXTS["layer_design"], seen=found)]


def _asked_for(impressions: Sequence[dict[str, Any]], of: str | None) -> int:
    """The place of the impression of a name; of a gradation that is now printed otherwise, of its colour."""
    names = [each["name"] for each in impressions]
    if of is None or of in names:
        return 0 if of is None else names.index(of)
    colour = of.rpartition(", ")[0] or of
    return next(
        (k for k, each in enumerate(impressions) if each.get("gradation") and colour in each["colours"]), 0
    )


def _context(request: Request, opened: OpenedPrint, found: Look, of: str | None, see: str) -> dict[str, Any]:
    told = found.stage("separation").told
    findings = shown(told["findings"], found, stage="separation") if told else ()
    impressions = _as_decided(found, told) if told else []
    if not impressions or found.settings is None or found.stage("design").told is None:
        return {"impressions": [], "own_stops": findings, "stops": () if findings else stops(found)}
    view = see if see in VIEWS else "after"
    names = [each["name"] for each in impressions]
    k = _asked_for(impressions, of)
    number, faces = impressions[k]["number"], _faces(found)
    known = {
        "view": view,
        "name": names[k],
        "faces": faces,
        "findings": findings,
        "picture": thumb(request, opened, "proof", seen=found),
    }
    own = [each for each in findings if _belongs(each, impressions[k])]
    caption = words.fmt(f"{view}_nth", number=impressions[k]["place"], total=len(impressions))
    return {
        "state": found.stage("separation").state,
        "impressions": [_row(each, known) for each in impressions],
        "chosen": _chosen(found, impressions, k, faces),
        "overprints": shown_overprints(found, told or {}, names[k]),
        "splits": split_edits(found),
        "own_order": bool(found.settings.separation.order),
        "own_findings": own,
        "findings": [replace(each, number=None) for each in findings if each not in own],
        **key_and_traps(found, told or {}),
        "caption": caption,
        "views": [
            {
                "key": each,
                "name": words.TEXTS[f"layer_{each}"],
                "href": _href(names[k], each),
                "here": each == view,
            }
            for each in VIEWS
        ],
        "sheet": sheet(
            found,
            _under_or_design(request, opened, found, number, view),
            label=caption,
            pins=[each.pin() for each in own if each.at],
        ),
    }


@router.get("/print/{id}/impressions")
def impressions(request: Request, opened: Opened, of: str | None = None, see: str = "after") -> Response:
    """The station; ``of`` names the impression, ``see`` says what the sheet shows of it."""
    found = look(opened.folder)
    return respond(
        request, opened, found, here="impressions", context=_context(request, opened, found, of, see)
    )

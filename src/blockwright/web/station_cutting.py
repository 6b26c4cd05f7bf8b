"""The station Cutting: by hand, stencil or router, what comes of it before it is cut, and the files."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response

from blockwright.documents.packet_cautions import CAUTIONS
from blockwright.looking import Look, look
from blockwright.model.settings import Settings
from blockwright.telling import REGISTRATION_FILES, bench_files
from blockwright.web import words
from blockwright.web.drawer import Opened
from blockwright.web.faces import FaceTold, face_small, faces_told, pictures_version
from blockwright.web.findings import shown
from blockwright.web.frame import respond
from blockwright.web.relief import relief_shown
from blockwright.web.routed import (
    RoutedShown,
    face_cut,
    findings_at,
    minutes_said,
    pins,
    routed_shown,
    shop_files,
    shop_folder,
)
from blockwright.web.router_choice import router_choice
from blockwright.web.sheets import sheet_pages
from blockwright.web.station_blocks import carries_said, chosen_face, picture_url, small_url, stops

router = APIRouter()

KINDS = ("face-down", "face-up")
"""The kinds of transfer sheet, as their files are called."""

RELIEF = "relief"
"""What is shown instead of a sheet of a face that is routed."""

MOST_ACROSS = 12
"""Pages side by side or one below the other that the style sheet knows; a block of 3 m has 11 of A4."""

PAPERS = ("A4", "A3", "Letter", "roll")

_FILES = ("file_down", "file_up", "file_dxf", "file_svg")
"""What each of a face's files is for, in the order of :func:`bench_files`."""

_FIRST, _DUST, _KNIVES, _BLASTING = "Before all else", "Wood dust", "Knives and gouges", "Sandblasting"
_ROUTER = "Router"
"""Names of the packet's cautions."""


def cautions(*names: str) -> list[tuple[str, str]]:
    """The packet's cautions with these names, in the packet's order."""
    return [each for each in CAUTIONS if each[0] in names]


def _href(face: FaceTold, kind: str, page: int | None = None) -> str:
    return "?" + urlencode({"face": face.name, "sheet": kind} | ({"page": page} if page else {}))


def _own_method(settings: Settings, face: FaceTold) -> str:
    """How a face is set to be cut by itself, or empty when it follows the others."""
    said = (each.method for each in settings.cutting.face[::-1] if each.face == face.name)
    return next(filter(None, said), "")


def _pages(url: str, found: Look, face: FaceTold, kind: str) -> list[dict[str, Any]]:
    """The pages of a transfer sheet that are there to be printed."""
    stage = found.stage("cutting")
    name = f"{face.slug}-{kind}.pdf"
    if stage.folder is None or name not in stage.files:
        return []
    try:
        sheets = sheet_pages(stage.folder / name)
    except OSError:
        return []  # It is just being made anew.
    pages = []
    for number in range(1, sheets.total + 1):
        row, column = sheets.places[number - 1]
        said = words.fmt("page_nth", number=number, total=sheets.total)
        if sheets.total > 1:
            said = words.fmt("page_at", page=said, row=row, column=column)
        pages.append(
            {
                "number": number,
                "row": row,
                "column": column,
                "src": f"{url}/sheets/{face.slug}/{kind}/{number}.png?v={stage.version}",
                "width": sheets.width_px,
                "height": sheets.height_px,
                "said": said,
                "href": _href(face, kind, number),
            }
        )
    return pages


def _pages_said(face: FaceTold, pages: list[dict[str, Any]], across: int, down: int) -> str:
    """How many pages there are, and how they are joined."""
    said = words.fmt("sheets_of", face=face.name, pages=words.count("pages", len(pages)))
    return said if len(pages) == 1 else words.fmt("pages_joined", pages=said, across=across, down=down)


def _files(url: str, found: Look, face: FaceTold) -> list[dict[str, str]]:
    """The face's files that may be downloaded, each with what it is for."""
    there = found.stage("cutting").files
    return [
        {"name": name, "href": f"{url}/files/cutting/{name}", "for": words.TEXTS[key]}
        for name, key in zip(bench_files(face.name), _FILES, strict=True)
        if name in there
    ]


def _board_files(url: str, found: Look) -> list[dict[str, str]]:
    """The files of the registration board, where there are part blocks."""
    there = found.stage("cutting").files
    return [
        {"name": name, "href": f"{url}/files/cutting/{name}", "for": words.TEXTS[key]}
        for name, key in zip(REGISTRATION_FILES, ("file_board_pdf", "file_board_svg"), strict=True)
        if name in there
    ]


def _rows(url: str, found: Look, settings: Settings, face: FaceTold, kind: str) -> list[dict[str, Any]]:
    version = pictures_version(found)
    there = face_small(found, face, seen="carver") is not None
    faces = faces_told(found)
    methods = _methods(settings, faces)
    minutes = _minutes(found, methods)
    rows = []
    for each in faces:
        method = methods[each.name]
        said = [words.TEXTS[f"short_{method}"]]
        if each.name in minutes:
            said.append(minutes_said(minutes[each.name]))
        rows.append(
            {
                "name": each.name,
                "slug": each.slug,
                "carries": carries_said(each),
                "said": said,
                "href": _href(each, kind),
                "here": each.name == face.name,
                "first": each.first_of_board,
                "wide": each.wide_mm,
                "high": each.high_mm,
                "small": small_url(url, each, seen="carver", version=version) if there else None,
            }
        )
    return rows


def _minutes(found: Look, methods: Mapping[str, str]) -> dict[str, float]:
    """How long each face takes, as far as that was worked out for the way in which it is to be cut."""
    told: Mapping[str, Any] = found.stage("cutting").told or {"faces": ()}
    return {
        each["face"]: each["minutes"] for each in told["faces"] if methods.get(each["face"]) == each["method"]
    }


def _methods(settings: Settings, faces: list[FaceTold]) -> dict[str, str]:
    """How each face is to be cut."""
    return {each.name: _own_method(settings, each) or settings.cutting.method for each in faces}


def _routed(
    url: str, found: Look, settings: Settings, faces: list[FaceTold], face: FaceTold
) -> dict[str, Any]:
    """What the page has of a face that is routed: its relief, what is said, and the shop's files."""
    cut, stage = face_cut(found, face.name), found.stage("cutting")
    told = shown(stage.told["findings"], found, stage="cutting") if stage.told else ()
    findings = findings_at(told, face, faces)
    if cut is None or cut.method != "router":
        return {"findings": findings, "relief": None, "routed": None, "shop_files": []}
    relief = relief_shown(url, found, face, cut)
    said: RoutedShown | None = None
    if cut.routing is not None:
        tinted = bool(relief and relief["bits"])
        said = routed_shown(cut.routing, settings, face, told, tinted=tinted)
    return {
        "findings": findings,
        "relief": relief and relief | {"pins": pins(told, found, face)},
        "routed": said,
        "shop_files": shop_files(url, found, face, cut.routing),
        "shop_zip": f"{shop_folder(face.slug)}.zip",
        "shop_href": f"{url}/shop/{face.slug}.zip",
    }


def _kinds(face: FaceTold, kind: str, relief: Any, pages: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What of a face may be shown in the middle."""
    offered = ((RELIEF,) if relief else ()) + (KINDS if pages or relief else ())
    return [
        {
            "key": each,
            "name": words.TEXTS[f"kind_{each.replace('-', '_')}"],
            "href": _href(face, each),
            "here": each == kind,
        }
        for each in offered
    ]


def _kind_said(face: FaceTold, kind: str) -> str:
    """What the kind of sheet that is shown is for; nothing of a relief."""
    if kind not in KINDS:
        return ""
    return words.TEXTS[f"kind_{kind.replace('-', '_')}_why" if face.mirrored else "kind_back_why"]


def _context(url: str, found: Look, name: str | None, sheet: str | None, page: int | None) -> dict[str, Any]:
    faces, settings, stage = faces_told(found), found.settings, found.stage("cutting")
    if not faces or settings is None:
        return {"faces": [], "stops": stops(found), "state": stage.state}
    face = chosen_face(faces, name)
    methods = _methods(settings, faces)
    method, minutes = methods[face.name], _minutes(found, methods)
    routed = _routed(url, found, settings, faces, face)
    if method != "router":
        routed |= {"relief": None, "routed": None, "shop_files": []}
    kind = sheet if sheet in KINDS else RELIEF if routed["relief"] else KINDS[0]
    pages = _pages(url, found, face, kind) if kind in KINDS else []
    across, down = (max((each[side] for each in pages), default=1) for side in ("column", "row"))
    stencils, routes = (sum(each == way for each in methods.values()) for way in ("stencil", "router"))
    first = cautions(_FIRST, _BLASTING, _DUST) if stencils else []
    by_hand = cautions(_FIRST, _DUST, _KNIVES, *([_ROUTER] if routes else []))
    there = face_small(found, face, seen="carver") is not None
    return routed | {
        "state": stage.state,
        "faces": _rows(url, found, settings, face, kind),
        "face": face,
        "kind": kind,
        "under": f"{words.TEXTS[f'by_{method}']} · {carries_said(face)}",
        "method": method,
        "own_method": _own_method(settings, face),
        "router": router_choice(settings, face.name) if method == "router" else None,
        "stencils": stencils,
        "pages": pages,
        "across": min(across, MOST_ACROSS),
        "down": min(down, MOST_ACROSS),
        "page": next((each for each in pages if each["number"] == page), None),
        "all_href": _href(face, kind),
        "kinds": _kinds(face, kind, routed["relief"], pages),
        "kind_said": _kind_said(face, kind),
        "picture": picture_url(url, face, seen="carver", version=pictures_version(found)) if there else None,
        "caption": routed["relief"]["said"]
        if kind == RELIEF
        else _pages_said(face, pages, across, down)
        if pages
        else face.caption("carver"),
        "files": _files(url, found, face),
        "board_files": _board_files(url, found),
        "bench": bool(stage.files),
        "bench_count": sum(not each.endswith(".json") for each in stage.files),
        "packet": found.packet_fresh,
        "hours": words.fmt("hours_all", time=minutes_said(sum(minutes.values())))
        if len(minutes) == len(faces)
        else None,
        "hours_face": words.fmt("hours_face", face=face.name, time=minutes_said(minutes[face.name]))
        if face.name in minutes
        else None,
        "cautions_stencil": first,
        "cautions": [each for each in by_hand if each not in first],
        "papers": [(each, words.TEXTS.get(f"paper_{each}", each)) for each in PAPERS],
    }


@router.get("/print/{id}/cutting")
def cutting(
    request: Request,
    opened: Opened,
    face: str | None = None,
    sheet: str | None = None,
    page: str | None = None,
) -> Response:
    """The station; ``face`` names a face, ``sheet`` is "face-down" or "face-up", ``page`` one page."""
    found = look(opened.folder)
    number = int(page) if page and page.isdecimal() and len(page) < 6 else None
    context = _context(f"/print/{opened.id}", found, face, sheet, number)
    return respond(request, opened, found, here="cutting", context=context)

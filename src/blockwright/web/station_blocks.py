"""The station Blocks: boards and faces to scale with marks and grain, and the sentences that lay them out."""

from dataclasses import replace
from itertools import combinations
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response

from blockwright.looking import Look, look
from blockwright.model.settings import Settings
from blockwright.web import words
from blockwright.web.answering import Answer
from blockwright.web.answers_sharing import sharing, wishes
from blockwright.web.drawer import Opened
from blockwright.web.faces import (
    SEEN,
    FaceTold,
    Seen,
    board_of,
    drawn_as_told,
    face_picture,
    face_small,
    faces_told,
    pictures_version,
)
from blockwright.web.findings import FindingShown, shown
from blockwright.web.frame import respond
from blockwright.web.movement import movement_shown
from blockwright.web.part_blocks import (
    count_said,
    part_choices,
    parts_shown,
    registration_picture,
    seat_said,
)
from blockwright.web.sawing_said import sawn_boards
from blockwright.web.showing import show_sentence

router = APIRouter()

PICTURE_PX = 1600
"""Longer side of the picture in the page: sharp on a dense screen."""

LARGE_PX = 3200
"""Longer side of the picture by itself: a hand's breadth of wood fills a screen."""

_FOR_EVER = {"Cache-Control": "private, max-age=31536000, immutable"}
_ASK_AGAIN = {"Cache-Control": "private, no-cache"}


def side_said(face: FaceTold) -> str:
    """The side of the board in words."""
    return words.TEXTS.get(f"side_{face.side}", face.side)


def carries_said(face: FaceTold) -> str:
    """What a face carries, for a list."""
    return ", ".join(f"{number} {name}".strip() for number, name, _ in face.impressions)


def chosen_face(faces: list[FaceTold], name: str | None) -> FaceTold:
    """The face that the address names, else the first."""
    return next((face for face in faces if face.name == name), faces[0])


def stops(found: Look) -> tuple[FindingShown, ...]:
    """What keeps a station from having anything to show: findings of earlier stages that stop the work."""
    stage_findings = [(stage, finding) for stage, finding in found.findings if finding["severity"] == "stop"]
    return tuple(
        replace(each, at=None, number=None)
        for stage, finding in stage_findings
        for each in shown([finding], found, stage=stage)
    )


def small_url(url: str, face: FaceTold, *, seen: Seen, version: str) -> str:
    """Where the small picture of a face is."""
    return f"{url}/faces/{face.slug}.svg?{urlencode({'seen': seen, 'v': version})}"


def picture_url(url: str, face: FaceTold, *, seen: Seen, version: str, large: bool = False) -> str:
    """Where the picture of a face is."""
    asked = {"seen": seen, "v": version} | ({"size": "large"} if large else {})
    return f"{url}/faces/{face.slug}.png?{urlencode(asked)}"


def _href(face: FaceTold, seen: Seen) -> str:
    return "?" + urlencode({"face": face.name, "seen": seen})


def _board_about(found: Look, face: FaceTold) -> str:
    board = board_of(found, face)
    size = words.fmt(
        "board_size",
        width=words.figure(board["width_mm"], 0),
        height=words.figure(board["height_mm"], 0),
        thickness=words.mm(board["thickness_mm"]) if board["thickness_mm"] else words.TEXTS["no_thickness"],
    )
    kind = "part_named" if face.part else "board_named"
    named = words.fmt(kind, board=board["name"], wood=board["wood"] or words.TEXTS["no_wood"])
    grain = words.TEXTS.get(f"board_grain_{board.get('grain')}") if board["stock"] else None
    return " · ".join([named, size, *([grain] if grain else [])])


def _cut_from(found: Look, face: FaceTold, settings: Settings) -> str | None:
    """Which board the block is sawn from, and how its grain lies there."""
    name = board_of(found, face)["stock"]
    stock = next((each for each in settings.blocks.stock if each.name == name), None)
    if stock is None:
        return None
    return words.fmt(
        "cut_from", name=stock.name, width=words.figure(stock.width_mm, 0), height=words.mm(stock.height_mm)
    )


def _shares(found: Look, face: FaceTold, settings: Settings) -> dict[str, Any]:
    """What shares the face and why, and how that can be decided otherwise."""
    names = [name for _, name, _ in face.impressions if name]
    told = found.stage("separation").told or {"impressions": ()}
    # Leaf takes no block, and what presses the sheet's other side cannot share this one.
    others = [
        each["name"]
        for each in told["impressions"]
        if each["name"] not in names
        and each["kind"] != "leaf"
        and (each.get("side", "front") == "front") == face.mirrored
    ]
    masked = {name.casefold() for name in settings.blocks.masked}
    return {
        "why": face.why,
        "apart": [
            Answer(words.fmt("share_apart", one=one, other=other), sharing("apart", one, other))
            for one, other in combinations(names, 2)
        ],
        "first": names[0] if names else "",
        "others": others,
        "masks": [
            Answer(
                words.fmt("mask_off" if name.casefold() in masked else "mask_on", name=name),
                sharing("unmasked" if name.casefold() in masked else "masked", name),
            )
            for name in names
        ],
        "wishes": wishes(settings, found.text_hash),
    }


def _context(url: str, found: Look, name: str | None, asked: str | None) -> dict[str, Any]:
    faces, settings, stage = faces_told(found), found.settings, found.stage("blocks")
    if not faces or settings is None or stage.told is None:
        told = stage.told["findings"] if stage.told else ()
        own = tuple(replace(each, at=None, number=None) for each in shown(told, found, stage="blocks"))
        return {"faces": [], "stops": own or stops(found), "state": stage.state}
    seen: Seen = next((each for each in SEEN if each == asked), "carver")
    face, version = chosen_face(faces, name), pictures_version(found)
    there = face_small(found, face, seen=seen) is not None
    findings = shown(stage.told["findings"], found, stage="blocks")
    return {
        "state": stage.state,
        "faces": [
            {
                "name": each.name,
                "slug": each.slug,
                "side": side_said(each),
                "carries": carries_said(each),
                "href": _href(each, seen),
                "here": each is face,
                "first": each.first_of_board,
                "wide": each.wide_mm,
                "high": each.high_mm,
                "small": small_url(url, each, seen=seen, version=version) if there else None,
            }
            for each in faces
        ],
        "boards": stage.told["figures"]["boards"],
        "seat": seat_said(found, face, settings),
        "on_parts": part_choices(face, settings),
        "parts": parts_shown(url, found, settings),
        "face": face,
        "about": _board_about(found, face),
        "cut_from": _cut_from(found, face, settings),
        "impressions": [
            {"number": n, "name": each, "hex": tint, "href": f"{url}/impressions?{urlencode({'of': each})}"}
            for n, each, tint in face.impressions
        ],
        "picture": picture_url(url, face, seen=seen, version=version) if there else None,
        "picture_large": picture_url(url, face, seen=seen, version=version, large=True),
        "caption": face.caption(seen),
        "views": [
            {
                "key": each,
                "name": words.TEXTS[f"seen_{each}"],
                "href": _href(face, each),
                "here": each == seen,
            }
            for each in SEEN
        ],
        "shares": _shares(found, face, settings),
        "sawn": sawn_boards(stage.told),
        "count_said": count_said(stage.told["figures"]),
        "stock": settings.blocks.stock,
        "moves": movement_shown(found, face.name),
        # What could be shared stands as a sentence beside its control.
        "findings": [
            replace(each, at=None, number=None) for each in findings if each.code != "faces-could-share"
        ],
    }


@router.get("/print/{id}/blocks")
def blocks(request: Request, opened: Opened, face: str | None = None, seen: str | None = None) -> Response:
    """The station; ``face`` names a face, ``seen`` is "carver" (mirrored) or "print" (right-reading)."""
    found = look(opened.folder)
    context = _context(f"/print/{opened.id}", found, face, seen)
    return respond(request, opened, found, here="blocks", context=context)


@router.get("/print/{id}/registration-board.svg")
def registration_board(request: Request, opened: Opened, v: str = "") -> Response:
    """A picture of the registration board, where there are part blocks."""
    found = look(opened.folder)
    data = registration_picture(found)
    if data is None:
        return show_sentence(request, words.TEXTS["parts_none"], status=404)
    keep = v == pictures_version(found) and drawn_as_told(found)
    return Response(data, media_type="image/svg+xml", headers=_FOR_EVER if keep else _ASK_AGAIN)


@router.get("/print/{id}/faces/{slug}.{kind}")
def picture(
    request: Request, opened: Opened, slug: str, kind: str, seen: str = "carver", size: str = "", v: str = ""
) -> Response:
    """A picture of a face: a PNG to scale with its marks and sizes, or a small SVG without words."""
    found = look(opened.folder)
    face = next((each for each in faces_told(found) if each.slug == slug), None)
    how: Seen | None = next((each for each in SEEN if each == seen), None)
    data = None
    if face and how and kind == "svg":
        data = face_small(found, face, seen=how)
    elif face and how and kind == "png":
        data = face_picture(found, face, seen=how, pixels=LARGE_PX if size == "large" else PICTURE_PX)
    if data is None:
        return show_sentence(request, words.TEXTS["no_such_face"], status=404)
    keep = v == pictures_version(found) and drawn_as_told(found)
    kind_of = {"svg": "image/svg+xml", "png": "image/png"}[kind]
    return Response(data, media_type=kind_of, headers=_FOR_EVER if keep else _ASK_AGAIN)

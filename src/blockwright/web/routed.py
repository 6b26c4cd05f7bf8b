"""What the station Cutting says of a face that is routed: what its programs do, and which bits may do it."""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from pydantic import TypeAdapter, ValidationError

from blockwright.looking import Look
from blockwright.model.cut import BitChoice, Cut, FaceCut, Routing
from blockwright.model.settings import CuttingTable, Settings
from blockwright.model.units import PointMm
from blockwright.web import words
from blockwright.web.answering import Answer
from blockwright.web.faces import FaceTold, blocks_now
from blockwright.web.findings import FindingShown

SHOP_FILES: Mapping[str, str] = {
    "job-sheet.pdf": "file_job_sheet",
    "handwork.pdf": "file_handwork",
    "outlines.dxf": "file_shop_dxf",
    "outlines.svg": "file_shop_svg",
    "surface.3mf": "file_surface",
    "height.png": "file_height",
    "relief.png": "file_relief",
    "bits.png": "file_bits",
}
"""What each file of a shop folder is for, but for the programs; in the order in which a page lists them."""

BIT_TINTS = ("#3f6f8f", "#b4713a", "#5d7f4a", "#8a4f7d", "#c2a136", "#4d8f8a")
"""By the order of the bits' work, the colour of what a bit was the last to cut; a seventh has the first's."""

_PROGRAM, _IN_AIR = ".ngc", "air"


@dataclass(frozen=True, slots=True)
class WorkRow:
    """What one bit does; ``tint`` is its colour on the relief, empty where that is not told.

    ``held`` is a sentence where the machine does not do what the bit could.
    """

    bit: str
    what: str
    speed: str
    time: str
    tint: str
    held: str = ""


@dataclass(frozen=True, slots=True)
class ChoiceRow:
    """A set of bits to choose; ``fields`` are the act's."""

    bits: tuple[str, ...]
    router: str
    hand: str
    left: str
    here: bool
    fields: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RoutedShown:
    """What is said of a routed face; ``held_back`` is the sentence that says why no program is handed over.

    ``held_pin`` is the key of the finding whose place that sentence tells.
    ``any_bits`` are the fields of the act that leaves the choice of bits to the shelf, None where it is;
    ``idle`` the bits that have nothing to do on the face.
    """

    held_back: str
    held_pin: str
    said: tuple[str, ...]
    work: tuple[WorkRow, ...]
    choices: tuple[ChoiceRow, ...]
    any_bits: Mapping[str, Any] | None
    idle: tuple[str, ...] = ()


def shop_folder(slug: str) -> str:
    """The folder in the cutting stage with everything for the shop that routes a face.

    >>> shop_folder("A-front")
    'A-front-shop'
    """
    return f"{slug}-shop"


# --- reading the cut ----------------------------------------------------------------------------------------


@cache
def _reader() -> TypeAdapter[Cut]:
    return TypeAdapter(Cut)


@lru_cache(maxsize=2)
def _read(path: Path, _stamp: tuple[int, int, int]) -> Cut | None:
    try:
        return _reader().validate_json(path.read_bytes())
    except (OSError, ValidationError, ValueError):
        return None  # It is just being replaced, or was written by another version.


def face_cut(found: Look, name: str) -> FaceCut | None:
    """What is cut on a face as it was last worked out, or None."""
    folder = found.stage("cutting").folder
    if folder is None:
        return None
    path = folder / "value.json"
    try:
        state = path.stat()
    except OSError:
        return None
    cut = _read(path, (state.st_ino, state.st_mtime_ns, state.st_size))
    return next((face for face in cut.faces if face.face == name), None) if cut else None


# --- what is said -------------------------------------------------------------------------------------------


def minutes_said(minutes: float) -> str:
    """A span of time as one would say it: minutes below an hour and a half, else hours.

    >>> minutes_said(24.3), minutes_said(200.0), minutes_said(2354.3), minutes_said(0.2)
    ('24\\xa0minutes', '3.3\\xa0hours', '39\\xa0hours', '1\\xa0minute')
    """
    if minutes < 90:
        return words.count("minutes_of", max(1, round(minutes)))
    hours = minutes / 60
    return words.fmt("hours_of", hours=words.figure(hours, 1 if hours < 10 else 0))


def routed_shown(
    routing: Routing, settings: Settings, face: FaceTold, findings: Sequence[FindingShown], *, tinted: bool
) -> RoutedShown:
    """What is said of a routed face; ``tinted`` tells that the relief shows which bit cut where."""
    gouged = [each for each in findings if each.severity == "stop" and each.at and _is_of(each, face)]
    return RoutedShown(
        held_back=_held_back(routing, face, [each.at for each in gouged if each.at])
        if routing.held_back
        else "",
        held_pin=gouged[0].key if gouged else "",
        said=tuple(_sentences(routing)),
        work=tuple(
            WorkRow(
                bit=work.bit,
                what=work.what,
                speed=words.fmt("bit_speed", rpm=f"{work.rpm:.0f}", feed=f"{work.feed_mm_min:.0f}"),
                time=minutes_said(work.minutes),
                tint=BIT_TINTS[k % len(BIT_TINTS)] if tinted else "",
                held=work.held,
            )
            for k, work in enumerate(routing.work)
        ),
        choices=_choices(routing, settings.cutting, face.name),
        any_bits={"act": "set-router-bits", "bits": "[]"} if settings.cutting.router.bits else None,
        idle=routing.idle,
    )


def _sentences(routing: Routing) -> list[str]:
    time, machine = minutes_said(routing.router_min), words.opening(routing.machine)
    said = [words.fmt("route_time", machine=machine, time=time)]
    if routing.changes_min >= 0.5:
        changes = minutes_said(routing.changes_min)
        said = [words.fmt("route_time_changes", machine=machine, time=time, changes=changes)]
    if routing.lower_bound_min > 0:
        ratio, least = words.figure(routing.times_the_least), minutes_said(routing.lower_bound_min)
        said[0] += " " + words.fmt("route_bound", least=least, ratio=ratio)
    if routing.hand_places:
        left, hand = words.area(float(routing.hand.area)), minutes_said(routing.hand_min)
        said.append(words.count("route_hand", routing.hand_places, area=left, time=hand))
    else:
        said.append(words.TEXTS["route_no_hand"])
    if routing.narrow:
        narrowest = words.mm(min(each.width_mm for each in routing.narrow))
        said.append(words.count("route_narrow", len(routing.narrow), width=narrowest))
    touched = "route_touched" if routing.gouge_mm2 > 0 else "route_untouched"
    said.append(
        words.fmt(
            "route_checked",
            face=words.fmt(touched, area=words.area(routing.gouge_mm2)),
            percent=words.figure(routing.deep_percent, 1),
            deepest=words.mm(abs(routing.deepest_mm)),
            off=words.mm(routing.marks_within_mm),
        )
    )
    return said


def _held_back(routing: Routing, face: FaceTold, places: Sequence[PointMm]) -> str:
    """One sentence: no program is handed over, and where on the print it would cut into what prints."""
    area = words.area(routing.gouge_mm2)
    if routing.gouge_mm2 == 0.0:
        return words.fmt("held_back_else", face=face.name)
    if not places:
        return words.fmt("held_back", face=face.name, area=area)
    right, down = (words.mm(length) for length in places[0])
    return words.count("held_back", len(places), face=face.name, area=area, right=right, down=down)


def _choices(routing: Routing, table: CuttingTable, face: str) -> tuple[ChoiceRow, ...]:
    """The sets to choose: for the face alone where it has bits of its own, else for all faces."""
    wanted = set(table.for_face(face).router.bits) or {work.bit for work in routing.work}
    here = wanted - set(routing.idle)
    own = any(entry.face == face and entry.bits is not None for entry in table.face)
    to = {"face": face} if own else {}
    return tuple(_choice(each, to, here=set(each.bits) == here) for each in routing.choices)


def _choice(each: BitChoice, to: Mapping[str, str], *, here: bool) -> ChoiceRow:
    return ChoiceRow(
        bits=each.bits,
        router=f"{each.router_min:.0f}",
        hand=f"{each.hand_min:.0f}",
        left=words.area(each.hand_mm2),
        here=here,
        fields={"act": "set-router-bits", "bits": json.dumps(list(each.bits), ensure_ascii=False), **to},
    )


# --- findings and their places on the face ------------------------------------------------------------------


def _is_of(finding: FindingShown, face: FaceTold) -> bool:
    return bool(finding.about.get("face", face.name) == face.name)


def findings_at(
    findings: Sequence[FindingShown], face: FaceTold, faces: Sequence[FaceTold]
) -> tuple[FindingShown, ...]:
    """Findings as a page of one face shows them: those of another face lead there."""
    others = {each.name for each in faces} - {face.name}
    return tuple(
        replace(
            each,
            at=None,
            answers=(Answer(words.TEXTS["show"], {}, "?" + urlencode({"face": name})), *each.answers),
        )
        if each.at and (name := each.about.get("face")) in others
        else each
        for each in findings
    )


def pins(findings: Sequence[FindingShown], found: Look, face: FaceTold) -> list[dict[str, Any]]:
    """Findings as they are pinned on the face: places in mm from the block's upper left, as it lies there."""
    blocks = blocks_now(found)
    if blocks is None:
        return []
    one = next((each for each in blocks.faces if each.name == face.name), None)
    if one is None:
        return []
    left, top, _, _ = blocks.as_on(one).block.bounds
    shown = []
    for each in findings:
        if each.at is None or not _is_of(each, face):
            continue
        x, y = each.at
        across = blocks.image_width_mm - x if one.mirrored else x
        shown.append({**each.pin(), "at": [round(across - left, 2), round(y - top, 2)]})
    return shown


# --- the shop folder ----------------------------------------------------------------------------------------


def shop_files(url: str, found: Look, face: FaceTold, routing: Routing | None) -> list[dict[str, str]]:
    """The files of the shop folder that may be downloaded, programs first, each with what it is for."""
    start = shop_folder(face.slug) + "/"
    there = [name for name in found.stage("cutting").files if name.startswith(start)]
    programs = [name for name in there if name.endswith(_PROGRAM)]
    if routing is None or routing.held_back:
        programs = []
    files = [(name, _program_said(name, routing)) for name in sorted(programs, key=_in_air)]
    files += [(start + name, words.TEXTS[key]) for name, key in SHOP_FILES.items() if start + name in there]
    return [
        {"name": name.removeprefix(start), "href": f"{url}/files/cutting/{quote(name)}", "for": said}
        for name, said in files
    ]


def _in_air(name: str) -> bool:
    return _IN_AIR in re.split(r"\W+", Path(name).stem)


def _program_said(name: str, routing: Routing | None) -> str:
    if _in_air(name):
        return words.TEXTS["file_air"]
    own = Path(name).name
    bits = [work.bit for work in (routing.work if routing else ()) if own in map(_own_name, work.files)]
    return (
        words.fmt("file_program_of", bits=words.listed(list(dict.fromkeys(bits))))
        if bits
        else (words.TEXTS["file_program"])
    )


def _own_name(name: str) -> str:
    return Path(name).name

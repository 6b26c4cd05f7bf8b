"""Faces as the stations show them: what they carry, and their pictures, drawn once for each version."""

import hashlib
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal, get_args

import shapely
from pydantic import TypeAdapter, ValidationError

from blockwright.documents import InkSaid, draw_face_png
from blockwright.looking import Look
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.units import Area, Region
from blockwright.telling import file_name
from blockwright.web import words

Seen = Literal["carver", "print"]
SEEN: tuple[Seen, ...] = get_args(Seen)
"""How a face may be shown: mirrored as it is carved, or right-reading as it prints."""

NO_TINT = "#8d7f6a"
"""For what prints while the impressions, whose colours it takes, are being made anew."""

_PICTURES_KEPT = 32
"""Pictures that are kept; one has some 250 kB."""

_SMALL_KEPT = 256
"""Small pictures that are kept; one has some 10 kB."""

_SMALL_STEP_MM = 0.5
"""Bends smaller than this do not show in a list."""

_WOOD, _RECESS, _INK = "#ecdcc0", "#fffaf0", "#221e19"
"""A light wood, so that every ink is seen on it."""

_ONE_AT_A_TIME = threading.Lock()
"""Two pages that ask at once for the same picture have it drawn once."""

Stamp = tuple[int, int, int]

Inks = tuple[tuple[int, str, str], ...]
"""Number, name and colour of impressions, in printing order."""


@dataclass(frozen=True, slots=True)
class FaceTold:
    """A face as a list needs it; ``impressions`` are (number, name, ink's colour) in printing order.

    Those in ``blind`` have no ink.
    """

    name: str
    slug: str
    side: str
    board: str
    impressions: tuple[tuple[int, str, str], ...]
    first_of_board: bool
    wide_mm: int
    high_mm: int
    why: str = ""
    turned: tuple[int, ...] = ()
    mirrored: bool = True
    blind: frozenset[int] = frozenset()
    part: bool = False

    def caption(self, seen: Seen) -> str:
        """What a picture of it is of; a face for the sheet's back reads the same way on both."""
        return words.fmt(f"face_{seen}" if self.mirrored else "face_back", face=self.name)


def faces_told(found: Look) -> list[FaceTold]:
    """Every face of a print in the order of its boards; empty while there are none."""
    told = found.stage("blocks").told
    if told is None:
        return []
    separation = found.stage("separation").told or {"impressions": ()}
    known = {each["number"]: (each["name"], each["hex"]) for each in separation["impressions"]}
    blind = frozenset(each["number"] for each in separation["impressions"] if each["ink"] is None)
    return [
        FaceTold(
            name=face["name"],
            slug=file_name(face["name"]),
            side=face["name"].rsplit(" ", 1)[-1],
            board=board["name"],
            impressions=tuple((n, *known.get(n, ("", NO_TINT))) for n in face["impressions"]),
            first_of_board=k == 0,
            wide_mm=round(board["width_mm"]),
            high_mm=round(board["height_mm"]),
            why=face.get("why") or "",
            turned=tuple(face.get("turned", ())),
            mirrored=face["mirrored"],
            blind=blind.intersection(face["impressions"]),
            part=face.get("part_block") is not None,
        )
        for board in told["boards"]
        for k, face in enumerate(board["faces"])
    ]


def board_of(found: Look, face: FaceTold) -> Mapping[str, Any]:
    """What the summary tells of a face's board."""
    boards = (found.stage("blocks").told or {})["boards"]
    return next(board for board in boards if board["name"] == face.board)


def pictures_version(found: Look) -> str:
    """What changes when a picture of a face does."""
    versions = f"{found.stage('blocks').version} {found.stage('separation').version}"
    return hashlib.sha256(versions.encode()).hexdigest()[:12]


def face_picture(found: Look, face: FaceTold, *, seen: Seen, pixels: int) -> bytes | None:
    """A PNG of a face to scale, or None while there is nothing to draw it from."""
    at = _value(found)
    if at is None:
        return None
    with _ONE_AT_A_TIME:
        return _png(*at, face.name, seen, face.impressions, face.blind, pixels)


def face_small(found: Look, face: FaceTold, *, seen: Seen) -> bytes | None:
    """A small SVG of a face without words, or None while there is nothing to draw it from."""
    at = _value(found)
    return _svg(*at, face.name, seen, face.impressions, face.blind) if at else None


def drawn_as_told(found: Look) -> bool:
    """Whether what is drawn now is what the summary tells of: only then a browser may keep it for ever."""
    at = _value(found)
    return (
        at is not None
        and bool(found.stage("blocks").value_hash)
        and _hash(*at) == found.stage("blocks").value_hash
    )


def blocks_now(found: Look) -> BlockSet | None:
    """The blocks as they are drawn now, or None when they cannot be read."""
    at = _value(found)
    return _blocks(*at) if at else None


def _value(found: Look) -> tuple[Path, Stamp] | None:
    """Where the blocks lie and what changes with them, or None when they cannot be read."""
    folder = found.stage("blocks").folder
    if folder is None:
        return None
    path = folder / "value.json"
    try:
        state = path.stat()
    except OSError:
        return None
    stamp = state.st_ino, state.st_mtime_ns, state.st_size
    return (path, stamp) if _blocks(path, stamp) is not None else None


@cache
def _reader() -> TypeAdapter[BlockSet]:
    return TypeAdapter(BlockSet)


@lru_cache(maxsize=2)
def _read(path: Path, _stamp: Stamp) -> tuple[BlockSet, str] | None:
    try:
        content = path.read_bytes()
        return _reader().validate_json(content), hashlib.sha256(content).hexdigest()
    except (OSError, ValidationError, ValueError):
        return None  # It is just being replaced, or was written by another version.


def _blocks(path: Path, stamp: Stamp) -> BlockSet | None:
    read = _read(path, stamp)
    return read[0] if read else None


def _hash(path: Path, stamp: Stamp) -> str:
    read = _read(path, stamp)
    return read[1] if read else ""


def _face(blocks: BlockSet, name: str) -> Face | None:
    return next((face for face in blocks.faces if face.name == name), None)


@lru_cache(maxsize=_PICTURES_KEPT)
def _png(
    path: Path, stamp: Stamp, name: str, seen: Seen, inks: Inks, blind: frozenset[int], pixels: int
) -> bytes | None:
    blocks = _blocks(path, stamp)
    face = _face(blocks, name) if blocks else None
    if blocks is None or face is None:
        return None
    with TemporaryDirectory(prefix="blockwright-") as folder:
        into = Path(folder) / "face.png"
        said = {number: InkSaid(called, tint, number in blind) for number, called, tint in inks}
        draw_face_png(into, blocks, face, pixels=pixels, as_seen=seen, tint_hex=NO_TINT, inks=said)
        return into.read_bytes()


@lru_cache(maxsize=_SMALL_KEPT)
def _svg(path: Path, stamp: Stamp, name: str, seen: Seen, inks: Inks, blind: frozenset[int]) -> bytes | None:
    blocks = _blocks(path, stamp)
    face = _face(blocks, name) if blocks else None
    if blocks is None or face is None:
        return None
    blocks = blocks.as_on(face)
    left, top, right, bottom = blocks.block.bounds
    turn = ""
    if seen == "print" and face.mirrored:
        left, right = blocks.image_width_mm - right, blocks.image_width_mm - left
        turn = f' transform="translate({blocks.image_width_mm:.2f} 0) scale(-1 1)"'
    tints = {number: tint for number, _, tint in inks}
    marks = [
        recess for kento in blocks.marks_of(face) for recess in (kento.kagi_recess, kento.hikitsuke_recess)
    ]
    width, height = right - left, bottom - top
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}" height="{height:.2f}" '
        f'viewBox="{left:.2f} {top:.2f} {width:.2f} {height:.2f}">',
        f'<rect x="{left:.2f}" y="{top:.2f}" width="{width:.2f}" height="{height:.2f}" fill="{_WOOD}"/>',
        f'<g{turn} fill-rule="evenodd">',
        *(
            f'<path fill="{tints.get(part.impression, NO_TINT)}" stroke="{_INK}" stroke-width="0.5" '
            f'stroke-opacity="0.6" vector-effect="non-scaling-stroke" d="{_paths(part.printing)}"/>'
            # Where one carving prints an ink and embosses without any, it is seen in its ink.
            for part in sorted(face.each_part, key=lambda part: part.impression not in blind)
        ),
        f'<path fill="{_RECESS}" stroke="{_INK}" stroke-width="2" d="{"".join(map(_path, marks))}"/>'
        if marks
        else "",
        "</g></svg>",
    ]
    return "\n".join(lines).encode()


def _paths(area: Area) -> str:
    return "".join(map(_path, shapely.get_parts(shapely.simplify(area, _SMALL_STEP_MM))))


def _path(region: Region) -> str:
    return "".join(
        "M" + " ".join(f"{x:.1f},{y:.1f}" for x, y in shapely.get_coordinates(ring)[:-1]) + "Z"
        for ring in (region.exterior, *region.interiors)
    )

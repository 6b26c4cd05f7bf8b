"""The relief of a routed face: its heights as a browser takes them, what lies over it, and the shop folder.

Heights are sent as a header of 20 bytes and whole numbers of 16 bits, all little-endian: columns and rows
(unsigned, 32 bits), the side of a square, the lowest and the highest place (floats of 32 bits, mm); then row
by row from the upper left, 0 for the lowest and 65535 for the highest.
"""

import json
import struct
import threading
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from fastapi import APIRouter, Request, Response
from numpy.typing import NDArray
from PIL import Image

from blockwright.documents.height_png import read_heights
from blockwright.looking import Look, look
from blockwright.model.cut import FaceCut
from blockwright.web import words
from blockwright.web.drawer import Opened
from blockwright.web.faces import FaceTold, blocks_now, faces_told
from blockwright.web.pages import archived, no_file
from blockwright.web.routed import BIT_TINTS, face_cut, shop_folder
from blockwright.web.showing import show_sentence

router = APIRouter()

MOST_ACROSS = 1000
"""Squares along the longer side at most: as many as a screen has room for, and a browser turns with ease."""

HEIGHTS, BITS, PICTURE = "height.png", "bits.png", "relief.png"

_HAND_STEP_MM = 0.05
"""Bends of the handwork map smaller than this do not show."""

_KEPT = 6
"""Reliefs that are kept; one has up to 2 MB."""

_ONE_AT_A_TIME = threading.Lock()

_FOR_EVER = {"Cache-Control": "private, max-age=31536000, immutable"}
_ASK_AGAIN = {"Cache-Control": "private, no-cache"}

Stamp = tuple[int, int]


def reduced(heights: NDArray[np.float32], step_mm: float) -> tuple[NDArray[np.float32], float]:
    """Heights in squares of which at most MOST_ACROSS lie along the longer side, and the side of a square.

    A square has the height of its highest place, so that no line that prints is lost; it may look wider by
    up to one square.

    >>> reduced(np.zeros((4, 3000), np.float32), 0.1)[0].shape
    (2, 1000)
    """
    times = -(-max(heights.shape) // MOST_ACROSS)
    if times == 1:
        return heights, step_mm
    rows, columns = (-(-side // times) for side in heights.shape)
    padded = np.pad(
        heights,
        ((0, rows * times - heights.shape[0]), (0, columns * times - heights.shape[1])),
        mode="edge",
    )
    return padded.reshape(rows, times, columns, times).max(axis=(1, 3)), step_mm * times


def packed(heights: NDArray[np.float32], step_mm: float) -> bytes:
    """Heights (H, W) in mm as they are sent."""
    lowest, highest = float(heights.min()), float(heights.max())
    share = (heights - lowest) / max(highest - lowest, 1e-9)
    head = struct.pack("<IIfff", heights.shape[1], heights.shape[0], step_mm, lowest, highest)
    return bytes(head + np.rint(share * 65535.0).astype("<u2").tobytes())


@lru_cache(maxsize=_KEPT)
def _heights(path: Path, _stamp: Stamp) -> bytes:
    heights, scale = read_heights(path)
    # Read as a program sees them, from the lower left; sent as the carver does.
    return packed(*reduced(heights[::-1], scale.mm_per_pixel))


@lru_cache(maxsize=_KEPT)
def _bits(path: Path, _stamp: Stamp) -> bytes:
    """Which bit was the last in each square: columns and rows (unsigned, 32 bits), then a byte a square."""
    with Image.open(path, formats=("PNG",)) as picture:
        times = -(-max(picture.size) // MOST_ACROSS)
        last = np.asarray(picture.convert("L"))[times // 2 :: times, times // 2 :: times]
    return struct.pack("<II", last.shape[1], last.shape[0]) + last.astype(np.uint8).tobytes()


# --- where it lies ------------------------------------------------------------------------------------------


def _file(found: Look, face: FaceTold, name: str) -> tuple[Path, Stamp] | None:
    """A file of the face's shop folder and what changes with it, as it was last made."""
    folder = found.stage("cutting").folder
    if folder is None:
        return None
    path = folder / shop_folder(face.slug) / name
    try:
        state = path.stat()
    except OSError:
        return None
    return path, (state.st_mtime_ns, state.st_size)


def _version(stamp: Stamp) -> str:
    return f"{stamp[0]:x}-{stamp[1]:x}"


def relief_shown(url: str, found: Look, face: FaceTold, cut: FaceCut) -> dict[str, Any] | None:
    """What ``<relief-view>`` shows of a face, or None while there are no heights."""
    heights = _file(found, face, HEIGHTS)
    blocks = blocks_now(found)
    one = next((each for each in blocks.faces if each.name == face.name), None) if blocks else None
    if heights is None or blocks is None or one is None or cut.routing is None:
        return None
    left, top, right, bottom = blocks.as_on(one).block.bounds
    place = f"{url}/relief/{face.slug}"
    bits, picture = (_file(found, face, name) for name in (BITS, PICTURE))
    size = {"width": words.mm(right - left), "height": words.mm(bottom - top)}
    label = words.fmt("relief_label", face=face.name, deepest=words.mm(abs(cut.routing.deepest_mm)), **size)
    return {
        "src": f"{place}/{_version(heights[1])}/heights",
        "hand": f"{place}/{found.stage('cutting').version}/hand.json" if cut.routing.hand_places else "",
        "bits": f"{place}/{_version(bits[1])}/bits" if bits else "",
        "tints": BIT_TINTS,
        "picture": f"{place}/{_version(picture[1])}/relief.png" if picture else "",
        "width_mm": round(right - left, 3),
        "height_mm": round(bottom - top, 3),
        "label": label,
        "alt": words.fmt("relief_alt", face=face.name),
        "said": words.fmt("relief_said" if face.mirrored else "relief_said_back", face=face.name),
    }


def _face_of(found: Look, slug: str) -> FaceTold | None:
    return next((each for each in faces_told(found) if each.slug == slug), None)


def _sent(data: bytes, kind: str, *, keep: bool) -> Response:
    return Response(data, media_type=kind, headers=_FOR_EVER if keep else _ASK_AGAIN)


@router.get("/print/{id}/relief/{slug}/{version}/heights")
def heights(request: Request, opened: Opened, slug: str, version: str) -> Response:
    """The heights of a face, kept by the browser for as long as their version is shown."""
    found = look(opened.folder)
    face = _face_of(found, slug)
    at = _file(found, face, HEIGHTS) if face else None
    if at is None:
        return show_sentence(request, words.TEXTS["no_such_file"], status=404)
    with _ONE_AT_A_TIME:
        data = _heights(*at)
    return _sent(data, "application/octet-stream", keep=version == _version(at[1]))


@router.get("/print/{id}/relief/{slug}/{version}/bits")
def bits(request: Request, opened: Opened, slug: str, version: str) -> Response:
    """Which bit cut where last: 0 for none, else its place in the order of the work."""
    found = look(opened.folder)
    face = _face_of(found, slug)
    at = _file(found, face, BITS) if face else None
    if at is None:
        return show_sentence(request, words.TEXTS["no_such_file"], status=404)
    with _ONE_AT_A_TIME:
        data = _bits(*at)
    return _sent(data, "application/octet-stream", keep=version == _version(at[1]))


@router.get("/print/{id}/relief/{slug}/{version}/relief.png")
def picture(request: Request, opened: Opened, slug: str, version: str) -> Response:
    """The shaded picture of a face, for browsers that cannot turn it."""
    found = look(opened.folder)
    face = _face_of(found, slug)
    at = _file(found, face, PICTURE) if face else None
    if at is None:
        return show_sentence(request, words.TEXTS["no_such_file"], status=404)
    return _sent(at[0].read_bytes(), "image/png", keep=version == _version(at[1]))


@router.get("/print/{id}/relief/{slug}/{version}/hand.json")
def hand(request: Request, opened: Opened, slug: str, version: str) -> Response:
    """What is left to the hand, and the places too narrow, in mm from the block's upper left corner."""
    found = look(opened.folder)
    face, blocks = _face_of(found, slug), blocks_now(found)
    cut = face_cut(found, face.name) if face else None
    one = next((each for each in blocks.faces if cut and each.name == cut.face), None) if blocks else None
    if blocks is None or one is None or cut is None or cut.routing is None:
        return show_sentence(request, words.TEXTS["no_such_file"], status=404)
    left, top, _, _ = blocks.as_on(one).block.bounds
    area = shapely.transform(cut.routing.hand.simplify(_HAND_STEP_MM), lambda xy: xy - (left, top))
    told = {
        "areas": [
            [np.round(ring.coords, 2).tolist() for ring in (part.exterior, *part.interiors)]
            for part in shapely.get_parts(area)
            if not part.is_empty
        ],
        "narrow": [[round(x - left, 2), round(y - top, 2)] for x, y in (n.at for n in cut.routing.narrow)],
    }
    data = json.dumps(told, separators=(",", ":")).encode()
    return _sent(data, "application/json", keep=version == found.stage("cutting").version)


@router.get("/print/{id}/shop/{slug}.zip")
def shop(request: Request, opened: Opened, slug: str) -> Response:
    """All that the shop gets for a face, in one archive."""
    found = look(opened.folder)
    face = _face_of(found, slug)
    start = f"{shop_folder(slug)}/"
    names = [name for name in found.stage("cutting").files if name.startswith(start)] if face else []
    if not names:
        return no_file(request, opened, found, "cutting")
    return archived(request, opened, found, names, f"{shop_folder(slug)}.zip")

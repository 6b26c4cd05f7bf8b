"""Deep-zoom tiles of a print: its picture, its shapes, and every sheet, at any scale.

``picture`` is cut up once and kept under ``out/.zoom/``. Everything else (``shapes``, ``proof``, and for an
impression ``after-07``, ``alone-07``, ``under-07``) is painted from the stages' values when it is looked at.
All calls may come from several threads at once; painting does not hold the interpreter.
"""

import hashlib
import json
import os
import re
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from threading import Lock
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from pydantic import TypeAdapter
from shapely.geometry import MultiPolygon, Polygon

from blockwright.decisions import read_decisions
from blockwright.documents.pyramid import (
    TILE_PX,
    as_jpeg,
    level_count,
    level_size,
    pyramid_size,
    tile_path,
    write_pyramid,
)
from blockwright.folder import OUT
from blockwright.geometry.narrowest import narrowest_width
from blockwright.hashing import code_version, file_hash, make_key
from blockwright.looking import Look, look
from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.errors import BlockwrightError, FolderError
from blockwright.model.inks import Optics, PrintInk, PrintInks
from blockwright.model.separation import Impression, Ink, Separation
from blockwright.model.settings import Settings
from blockwright.proof.windows import (
    DesignIndex,
    PrintIndex,
    Window,
    index_design,
    index_print,
    paint_after,
    paint_alone,
    paint_progress,
    paint_shapes,
    paint_under,
    printed_with,
)
from blockwright.recent import Recent

MOST_PIXELS_PER_MM = 24.0
"""Scale of the deepest level: a tenth of a mm, finer than a knife is led, is more than two pixels."""

_PRINTS = 2
"""Prints whose values are kept: the one that is open, and the one from before an edit or in another tab."""

_VIEWS = 8
"""Views of them that are kept, which share their values: after an edit come other shapes, then other
impressions, then other inks, and a page may still ask for tiles from before."""

_TILE_BYTES = 64 * 1024 * 1024
"""Painted tiles that are kept, bytes: some hundreds."""

_HANDS = min(os.cpu_count() or 1, 4)
"""Threads that paint."""

_WHOLE_PX = 0.02
"""A last pixel that lacks no more than this counts as whole, as in the proofs."""

_READINGS = 3
"""Times that a stage is read again when it is replaced meanwhile."""

_WHAT = re.compile(r"(picture|shapes|proof)|(after|alone|under)-([0-9]{2,3})")

_PAINTED_BY = ("geometry/prepared.py", "geometry/painting.py", "proof/windows.py", "proof/light.py", "colour")
"""Modules that the look of a painted tile rests on: a browser keeps tiles from before an update."""

_READ_BY = ("design", "documents/pyramid.py")
"""Rooms and modules that the picture's tiles rest on."""

_PAINTERS = {"after": paint_after, "alone": paint_alone, "under": paint_under}

Value = TypeVar("Value")


class TileError(BlockwrightError, LookupError):
    """There is no such tile, or none yet; its text is one plain sentence."""


@dataclass(frozen=True, slots=True)
class TileSource:
    """What a viewer has to know: the size in pixels at the deepest level, which is ``levels - 1``.

    Every level below has half the size, rounded up; level 0 is one tile. ``version`` changes with the tiles.
    """

    width_px: int
    height_px: int
    tile_px: int
    levels: int
    mm_per_px: float
    version: str


@dataclass(frozen=True)
class _View:
    """The values of a print made ready; without impressions while there are none.

    ``versions`` are those of its tiles by the kind of view: each changes only with what such a view shows.
    """

    design: DesignIndex
    sheets: PrintIndex | None
    versions: Mapping[str, str]


class Tiles:
    """Tiles of any print; one of these serves a whole program."""

    def __init__(self) -> None:
        self._views: Recent[tuple[str | None, ...], _View] = Recent(_VIEWS)
        self._designs: Recent[str, DesignIndex] = Recent(_PRINTS)
        self._sheets: Recent[tuple[str, str, str], PrintIndex] = Recent(_PRINTS)
        self._painted: Recent[tuple[str, str, int, int, int], bytes] = Recent(_TILE_BYTES, len)
        self._hashes: Recent[tuple[str, int, int], str] = Recent(64)
        self._sources: Recent[tuple[str, str], TileSource] = Recent(64)
        self._reading = Lock()
        self._cutting = Lock()
        self._stepping = Lock()
        # However many ask at once: more hands than cores are no quicker, and each one keeps its memory.
        self._hands = ThreadPoolExecutor(_HANDS, thread_name_prefix="tiles")

    def describe(self, folder: Path, what: str, *, seen: Look | None = None) -> TileSource:
        """Tell what a viewer has to know. Raises TileError when there is no such thing (yet).

        ``seen`` is a look at the folder that was just taken, where there is one.
        """
        kind, number = _parse(what)
        if kind == "picture":
            return self._picture(folder)
        view = self._view(folder, seen)
        if kind != "shapes":
            _sheets(view, kind, number)
        return _painted_source(view.design.design, view.versions[kind])

    def tile(self, folder: Path, what: str, level: int, column: int, row: int, version: str) -> bytes:
        """One tile as a JPEG file. Raises TileError when there is none, or none of this version any more."""
        kind, number = _parse(what)
        if kind == "picture":
            return self._picture_tile(folder, level, column, row, version)
        key = (version, what, level, column, row)
        if kept := self._painted.get(key):
            return kept
        view = self._views.first(lambda kept: kept.versions[kind] == version) or self._view(folder)
        if view.versions[kind] != version:
            raise TileError("This print has changed since; look at it anew.")
        source = _painted_source(view.design.design, version)
        window = _window(source, level, column, row)
        if kind == "after" and level == 0:
            return self._small_after(view, number, window)
        jpeg = self._hands.submit(_drawn, view, kind, number, window).result()
        self._painted.put(key, jpeg)
        return jpeg

    def _small_after(self, view: _View, number: int, window: Window) -> bytes:
        """The smallest tile of a sheet; as it is a step of the strip, the others are wanted with it."""
        sheets, version = _sheets(view, "after", number), view.versions["after"]
        with self._stepping:
            if kept := self._painted.get((version, f"after-{number:02d}", 0, 0, 0)):
                return kept
            pictures = self._hands.submit(list, paint_progress(sheets, window)).result()
            jpegs = list(
                self._hands.map(partial(_packed, window=window, design=view.design.design), pictures)
            )
            for step, jpeg in enumerate(jpegs):
                self._painted.put((version, f"after-{step:02d}", 0, 0, 0), jpeg)
        return jpegs[number]

    def rest(self) -> None:
        """Keep no more than the print that was looked at last: what else is asked for is painted anew."""
        for recent in (self._views, self._designs, self._sheets):
            recent.keep(1)
        self._painted.keep(0)

    @staticmethod
    def warm() -> None:
        """Load what is compiled, so that the first tile does not have to wait for it: about a second."""
        square = Polygon([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
        narrowest_width(square)
        colour = PaletteColour("", "#808080", (0.0, 0.0, 0.0))
        shapes = tuple(Shape(0, square, (0.5, 0.5)) for _ in range(2))
        design = index_design(
            Design("", 1.0, 1.0, 1.0, "#ffffff", (colour,), shapes, True, 0.0, 0.0, 0.0, 0.0)
        )
        optics = Optics((1.0,) * 36, (0.0,) * 36)
        ink = Ink("", optics.k, optics.s)
        wide = MultiPolygon([Polygon([(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)])])
        impressions = tuple(
            Impression(n + 1, "", "colour", ink, 1, (n,), wide, 0.0, "#808080", colour.lab) for n in range(2)
        )
        inks = [
            PrintInk(n + 1, "", "matched", optics, (1.0,), False, None, None, 0.0, 0.0, ()) for n in range(2)
        ]
        sheets = index_print(design, Separation(impressions, (), (), 0.0, 0.0), inks)
        as_jpeg(paint_shapes(design, window := Window(0.0, 0.0, 4, 4, 2.0)))
        as_jpeg(paint_under(sheets, 1, window))

    def design(self, folder: Path) -> DesignIndex:
        """The design made ready, for asking about its shapes. Raises TileError while there is none."""
        return self._view(folder).design

    def _view(self, folder: Path, seen: Look | None = None) -> _View:
        """The present values of a print."""
        for _ in range(_READINGS):
            seen, now = None, seen or look(folder)
            at = {name: _stage_folder(now, name) for name in ("design", "separation", "inks")}
            designed, separated, inked = (self._value_hash(folder) for folder in at.values())
            if designed is None:
                raise TileError("The shapes of this print are not made yet.")
            if _are_of_others(now):
                inked = None
            known = (designed, separated, inked)
            if view := self._views.get(known):
                return view
            with self._reading:
                if view := self._views.get(known):
                    return view
                try:
                    index = self._design_index(at["design"], designed)
                    sheets = self._print_index(at["separation"], separated, index)
                    inks = _read(at["inks"], inked, PrintInks).inks if inked else ()
                except _Replaced:
                    continue
                sheets = _inked(sheets, index.design.paper_hex, inks)
                view = _View(index, sheets, _versions(index, designed, separated, inked))
                self._views.put(known, view)
                return view
        raise TileError("This print is just being made anew; look again in a moment.")

    def _design_index(self, stage: Path, designed: str) -> DesignIndex:
        """The design made ready, once for all that is printed of it."""
        index = self._designs.get(designed)
        if index is None:
            index = index_design(_read(stage, designed, Design))
            self._designs.put(designed, index)
        return index

    def _print_index(self, stage: Path, separated: str | None, index: DesignIndex) -> PrintIndex | None:
        """The impressions made ready, printed as wanted, once for all inks; None while there are none.

        They are the same for a design that has other colours only.
        """
        if separated is None:
            return None
        known = (index.outlines, index.design.paper_hex, separated)
        sheets = self._sheets.get(known)
        if sheets is None:
            sheets = index_print(index, _read(stage, separated, Separation))
            self._sheets.put(known, sheets)
        return sheets

    def _value_hash(self, stage: Path) -> str | None:
        """The hash of a stage's value, as the note in its folder tells it; None while there is none."""
        note = stage / ".made.json"
        try:
            key = _stamp(note)
            if known := self._hashes.get(key):
                return known
            told = str(json.loads(note.read_text(encoding="utf-8"))["sha256"]["value.json"])
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None
        self._hashes.put(key, told)
        return told

    def _picture(self, folder: Path) -> TileSource:
        settings = read_decisions(folder)
        version = self._picture_version(folder, settings)
        place = _zoom_folder(folder, version)
        source = self._sources.get((str(place), version))
        if source is not None and place.is_dir():
            return source
        with self._cutting:
            if not place.is_dir():
                write_pyramid(place, _read_picture(folder, settings))
        width, height = pyramid_size(place)
        mm_per_px = settings.print.width_mm / width
        source = TileSource(width, height, TILE_PX, level_count(width, height), mm_per_px, version)
        self._sources.put((str(place), version), source)
        return source

    def _picture_version(self, folder: Path, settings: Settings) -> str:
        path = _picture_path(folder, settings)
        try:
            key = _stamp(path)
            pixels = self._hashes.get(key)
            if pixels is None:
                pixels = file_hash(path)
                self._hashes.put(key, pixels)
        except OSError as error:
            raise FolderError(f"{path.name} cannot be read ({error.strerror}).") from error
        return make_key(_code(_READ_BY), pixels, settings.print.paper, settings.print.width_mm)[:16]

    def _picture_tile(self, folder: Path, level: int, column: int, row: int, version: str) -> bytes:
        # Only versions that were told are looked up, so that a made-up one is never part of a path.
        source = self._sources.get((str(_zoom_folder(folder, version)), version)) or self._picture(folder)
        if source.version != version:
            raise TileError("The picture of this print has changed since; look at it anew.")
        _window(source, level, column, row)
        path = tile_path(_zoom_folder(folder, version), level=level, column=column, row=row)
        try:
            return path.read_bytes()
        except OSError as error:
            # Deleting out/ is allowed at any time: the next one who asks has it cut up again.
            raise TileError("The picture of this print has to be cut up again; look at it anew.") from error


def _are_of_others(seen: Look) -> bool:
    """Whether the inks that lie in the folder are of other impressions than those that do."""
    return seen.stage("inks").state == "stale" and seen.stage("separation").state != "stale"


def _versions(index: DesignIndex, designed: str, separated: str | None, inked: str | None) -> dict[str, str]:
    """The version of each kind of view, from all that it shows: no sheet shows the colours of the design."""
    design = index.design
    sheet = (separated, design.paper_hex, design.width_mm, design.height_mm)
    shown = {
        "shapes": (designed,),
        "proof": (*sheet, inked),
        "after": (*sheet, inked),
        "alone": sheet,
        "under": (*sheet, inked, index.outlines),
    }
    return {kind: make_key(_code(_PAINTED_BY), *what)[:16] for kind, what in shown.items()}


def _inked(sheets: PrintIndex | None, paper_hex: str, inks: Sequence[PrintInk]) -> PrintIndex | None:
    """The sheets printed with their inks; as wanted while these are still those of before an edit."""
    inked = [] if sheets is None else [each.number for each in sheets.impressions if each.ink is not None]
    if sheets is None or [ink.impression for ink in inks] != inked:
        return sheets
    return printed_with(sheets, paper_hex, inks)


class _Replaced(Exception):
    """A stage was replaced while it was read."""


def _stage_folder(seen: Look, name: str) -> Path:
    """Where a stage's value lies: as drawn, or as computed ahead."""
    return seen.stage(name).folder or seen.folder / OUT / name


def _zoom_folder(folder: Path, version: str) -> Path:
    return folder / OUT / ".zoom" / version


def _stamp(path: Path) -> tuple[str, int, int]:
    """What changes when a file does."""
    state = path.stat()
    return f"{path}:{state.st_ino}", state.st_mtime_ns, state.st_size


@cache
def _code(modules: tuple[str, ...]) -> str:
    """The version of the code, found once: it does not change while it runs."""
    return code_version(modules)


def _parse(what: str) -> tuple[str, int]:
    found = _WHAT.fullmatch(what)
    if found is None:
        raise TileError(
            f"There is no view {what!r}; there are picture, shapes, proof, and such as after-07, alone-07, "
            "under-07."
        )
    return found[1] or found[2], int(found[3] or 0)


def _read(stage: Path, wanted: str, kind: type[Value]) -> Value:
    try:
        content = (stage / "value.json").read_bytes()
    except OSError as error:
        raise _Replaced from error
    if hashlib.sha256(content).hexdigest() != wanted:
        raise _Replaced
    return TypeAdapter(kind).validate_json(content)


def _sheets(view: _View, kind: str, number: int) -> PrintIndex:
    """The impressions, where there is one of that number. Raises TileError."""
    if view.sheets is None:
        raise TileError("The impressions of this print are not made yet.")
    count = len(view.sheets.impressions)
    if kind != "proof" and not (0 if kind == "after" else 1) <= number <= count:
        raise TileError(f"There is no impression {number}; there are {count}.")
    if kind == "under" and not view.sheets.whole:
        raise TileError("The impressions are from before a change of the shapes; they are made anew.")
    return view.sheets


def _painted_source(design: Design, version: str) -> TileSource:
    width, height = (
        max(1, int(np.floor(mm * MOST_PIXELS_PER_MM + _WHOLE_PX)))
        for mm in (design.width_mm, design.height_mm)
    )
    levels = level_count(width, height)
    return TileSource(width, height, TILE_PX, levels, 1.0 / MOST_PIXELS_PER_MM, version)


def _window(source: TileSource, level: int, column: int, row: int) -> Window:
    """The window that a tile shows. Raises TileError when there is no such tile."""
    if not 0 <= level < source.levels:
        raise TileError(f"There is no level {level}; there are {source.levels}.")
    halvings = source.levels - 1 - level
    width, height = level_size(source.width_px, source.height_px, halvings=halvings)
    left, top = column * TILE_PX, row * TILE_PX
    if not (0 <= left < width and 0 <= top < height):
        raise TileError(f"There is no tile {column}, {row} on level {level}.")
    scale = 1.0 / source.mm_per_px / (1 << halvings)
    return Window(left / scale, top / scale, min(TILE_PX, width - left), min(TILE_PX, height - top), scale)


def _drawn(view: _View, kind: str, number: int, window: Window) -> bytes:
    return _packed(_paint(view, kind, number, window), window, view.design.design)


def _packed(picture: NDArray[np.uint8], window: Window, design: Design) -> bytes:
    return as_jpeg(_mended(picture, window, design))


def _paint(view: _View, kind: str, number: int, window: Window) -> NDArray[np.uint8]:
    if kind == "shapes":
        return paint_shapes(view.design, window)
    sheets = _sheets(view, kind, number)
    if kind == "proof":
        return paint_after(sheets, len(sheets.impressions), window)
    return _PAINTERS[kind](sheets, number, window)


def _mended(picture: NDArray[np.uint8], window: Window, design: Design) -> NDArray[np.uint8]:
    """A last row or column that the print fills only in part shows what is beside it, no pale hairline."""
    for axis, (start, length) in enumerate(((window.y_mm, design.height_mm), (window.x_mm, design.width_mm))):
        whole = int(np.floor((length - start) * window.pixels_per_mm + _WHOLE_PX))
        if 0 < whole < picture.shape[axis]:
            beyond, last = [slice(None)] * 2, [slice(None)] * 2
            beyond[axis], last[axis] = slice(whole, None), slice(whole - 1, whole)
            picture[tuple(beyond)] = picture[tuple(last)]
    return picture


def _picture_path(folder: Path, settings: Settings) -> Path:
    name = settings.print.picture
    if Path(name).name != name:
        raise FolderError(f"[print] picture is {name!r}; it must be a file in the print folder.")
    return folder / name


def _read_picture(folder: Path, settings: Settings) -> NDArray[np.uint8]:
    from blockwright.design import read_picture

    path = _picture_path(folder, settings)
    return read_picture(path, paper_hex=settings.print.paper, width_mm=settings.print.width_mm).pixels

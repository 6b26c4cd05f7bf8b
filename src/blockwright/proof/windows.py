"""Any window of the print at any scale, painted from the shapes: what a deep-zoom view of a sheet is made of.

The pixels are those of the whole pictures at the same scale (:mod:`blockwright.proof.pictures`): the same
coverage and the same layers of ink. Windows that meet join without a seam, hatches included.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.colour import colour_reflectance
from blockwright.geometry.prepared import Painted, PreparedAreas, Window, paint_prepared, prepare_areas
from blockwright.geometry.running import pixel_places, run_levels
from blockwright.model.design import Design, Run
from blockwright.model.inks import PrintInk
from blockwright.model.separation import Impression, Separation
from blockwright.model.units import Region
from blockwright.proof.finishing import edge_room_px, press
from blockwright.proof.gilt import gild
from blockwright.proof.layers import layers_of, wanted_layer
from blockwright.proof.light import CODES, LIGHT, SheetLight, Stacks

TRAP_HEX = "#9c2f24"
"""The stripes over a trap."""

_OWN_SHARE = 0.55
"""How strongly an impression's own area shows where it is told what runs under what: the sheet before it
stays readable beneath."""

_HATCH_PX = 6.0
"""From stripe to stripe of a trap, pixels; a trap of 0.5 mm at 24 pixels to the mm shows two of them."""

_STRIPE_PX = 2.6
"""Width of a stripe, pixels."""

_CLEARED = 0.9
"""How far a trap is lightened to the paper between the stripes, so that they stand out on any ink."""

Picture = NDArray[np.uint8]


@dataclass(frozen=True)
class DesignIndex:
    """A design made ready: its colours' areas for painting, its shapes for finding one by a place.

    ``areas`` has one area for each colour of the palette, ``levels`` its sRGB value, 0 to 255; ``runs`` are
    those of the colours that run. ``outlines`` is a hash of the shapes' outlines, whatever their colours.
    """

    design: Design
    regions: NDArray[np.object_]
    tree: shapely.STRtree
    areas: PreparedAreas
    levels: NDArray[np.float32]
    paper: NDArray[np.float32]
    runs: dict[int, Run]
    outlines: str


@dataclass(frozen=True)
class PrintIndex:
    """Impressions made ready: what each one prints, and the shapes that are its own.

    ``areas`` has one area for each impression in printing order, traps included; ``own`` the shapes of each
    without traps. ``stacks`` is printed with the inks of the print, ``wanted`` with inks mixed to match; both
    have a layer for each ink, which come before karazuri and leaf.
    ``impressions`` come without their areas and shapes, ``leaves`` are laid, by the number of the impression.
    ``whole`` tells that the separation is of this very
    design.
    """

    areas: PreparedAreas
    own: PreparedAreas
    stacks: Stacks
    wanted: Stacks
    whole: bool
    impressions: tuple[Impression, ...]
    leaves: Mapping[int, Sequence[Region]]


def index_design(design: Design) -> DesignIndex:
    """Make a design ready for its windows."""
    regions = np.array([shape.region for shape in design.shapes], dtype=object)
    shapely.prepare(regions)
    colours = np.array([shape.colour for shape in design.shapes], dtype=np.int64)
    areas = [_together(regions[colours == k]) for k in range(len(design.palette))]
    levels = [_levels(colour.srgb_hex) for colour in design.palette]
    return DesignIndex(
        design=design,
        regions=regions,
        tree=shapely.STRtree(regions),
        areas=prepare_areas(areas),
        levels=np.array(levels, dtype=np.float32).reshape(-1, 3),
        paper=np.array(_levels(design.paper_hex), dtype=np.float32),
        runs={shape.colour: shape.run for shape in design.shapes if shape.run is not None},
        outlines=hashlib.sha256(b"".join(shapely.to_wkb(regions).tolist())).hexdigest(),
    )


def index_print(
    index: DesignIndex, separation: Separation, inks: Sequence[PrintInk] | None = None
) -> PrintIndex:
    """Make the impressions of a design ready for their windows, printed with these inks.

    Without ``inks`` they are printed as wanted.
    """
    impressions, paper = separation.impressions, colour_reflectance(index.design.paper_hex)
    listed = set(separation.paper_shapes).union(*(each.shapes for each in impressions))
    whole = listed == set(range(len(index.regions)))
    own = [_together(index.regions[list(each.shapes) if whole else []]) for each in impressions]
    wanted = Stacks(paper, [wanted_layer(each) for each in separation.inked])
    made = PrintIndex(
        areas=prepare_areas([each.area for each in impressions]),
        own=prepare_areas(own),
        stacks=wanted,
        wanted=wanted,
        whole=whole,
        impressions=tuple(replace(each, area=MultiPolygon(), shapes=()) for each in impressions),
        leaves=separation.leaves,
    )
    return made if inks is None else printed_with(made, index.design.paper_hex, inks)


def printed_with(index: PrintIndex, paper_hex: str, inks: Sequence[PrintInk]) -> PrintIndex:
    """The same impressions printed with these inks. Raises ValueError when they are of others."""
    inked = [each for each in index.impressions if each.ink is not None]
    return replace(index, stacks=Stacks(colour_reflectance(paper_hex), layers_of(inked, inks)))


def paint_shapes(index: DesignIndex, window: Window) -> Picture:
    """The shapes in a window, (H, W, 3) uint8 sRGB, mixed at edges in coded values, on paper."""
    picture = np.empty((window.height_px, window.width_px, 3), dtype=np.float32)
    picture[:] = index.paper
    for colour, levels in enumerate(index.levels):
        painted = paint_prepared(index.areas, window, first=colour, last=colour + 1)
        if painted is None:
            continue
        here = picture[painted.rows, painted.columns]
        if (run := index.runs.get(colour)) is None:
            _mix(here, painted.share, levels - index.paper)
        else:
            here += painted.share[:, :, None] * (_run_levels(run, painted, window) - index.paper)
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


def paint_after(index: PrintIndex, number: int, window: Window) -> Picture:
    """The sheet after impression ``number`` in a window, (H, W, 3) uint8 sRGB; 0 is the bare paper.

    Raises ValueError when there is no impression of that number.
    """
    return _Sheet(index, window).after(number).finished(1, number)


def paint_progress(index: PrintIndex, window: Window) -> Iterator[Picture]:
    """The sheet after 0 impressions, 1 and so on, in one go: of each what ``paint_after`` paints of it."""
    sheet = _Sheet(index, window)
    yield sheet.picture.copy()
    for place in range(len(index.impressions)):
        sheet.lay(place, sheet.painted(index.areas, place))
        # What has no ink comes after all inks, so that it is never printed over.
        yield sheet.finished(place + 1, place + 1).copy()


def paint_alone(index: PrintIndex, number: int, window: Window) -> Picture:
    """Impression ``number`` by itself on the paper, in the ink that is wanted, (H, W, 3) uint8 sRGB.

    Raises ValueError when there is no impression of that number.
    """
    sheet = _Sheet(index, window, wanted=True)
    sheet.lay(sheet.place(number), sheet.painted(index.areas, sheet.place(number)))
    return sheet.finished(number, number)


def paint_under(index: PrintIndex, number: int, window: Window) -> Picture:
    """What runs under what, (H, W, 3) uint8 sRGB: the sheet before an impression, its area, its traps.

    The area is inked lightly. Where it lies under shapes of impressions printed later it is striped with
    TRAP_HEX on near-paper, so that the stripes are seen without colour and on any ink. Stripes are some
    pixels wide at every scale.

    Raises ValueError when there is no impression of that number, and where the separation is of another
    design, whose shapes are not known.
    """
    if not index.whole:
        raise ValueError("the separation is of another design")
    sheet = _Sheet(index, window)
    bare = sheet.picture[0, 0].tolist()
    place = sheet.place(number)
    before = sheet.after(number - 1).picture.copy()
    if index.impressions[place].ink is None:
        return sheet.finished(1, number)
    area = sheet.painted(index.areas, place)
    if area is None:
        return sheet.picture
    sheet.lay(place, area)
    picture = sheet.picture
    _mean_light(before[area.rows, area.columns], picture[area.rows, area.columns], _OWN_SHARE, LIGHT, CODES)
    trap = _less(area, sheet.painted(index.own, place), window)
    later = sheet.painted(index.own, place + 1, len(index.stacks.layers))
    if later is not None and trap.any():
        under = np.zeros_like(trap)
        under[later.rows, later.columns] = later.share
        phase = (window.x_mm + window.y_mm) * window.pixels_per_mm
        _stripe(
            picture,
            np.minimum(trap, under),
            np.array(bare, dtype=np.float32),
            np.array(_levels(TRAP_HEX), dtype=np.float32),
            phase % (_HATCH_PX * np.sqrt(2.0)),
        )
    return picture


class _Sheet:
    """A window of the sheet under way."""

    def __init__(self, index: PrintIndex, window: Window, *, wanted: bool = False) -> None:
        self.index, self.window = index, window
        stacks = index.wanted if wanted else index.stacks
        self.light = SheetLight(
            stacks,
            height_px=window.height_px,
            width_px=window.width_px,
            origin_mm=(window.x_mm, window.y_mm),
            pixels_per_mm=window.pixels_per_mm,
        )

    @property
    def picture(self) -> Picture:
        """What it looks like now."""
        return self.light.picture

    def place(self, number: int) -> int:
        """Where an impression stands in the index."""
        if not 1 <= number <= len(self.index.impressions):
            raise ValueError(f"there is no impression {number} of {len(self.index.impressions)}")
        return number - 1

    def painted(self, areas: PreparedAreas, first: int, last: int | None = None) -> Painted | None:
        return paint_prepared(areas, self.window, first=first, last=first + 1 if last is None else last)

    def lay(self, place: int, painted: Painted | None) -> None:
        """Lay an impression's ink, if it has one, where it is painted."""
        if painted is not None and self.index.impressions[place].ink is not None:
            self.light.lay(place, painted.rows, painted.columns, painted.share)

    def finished(self, first: int, last: int) -> Picture:
        """The picture with the karazuri and the leaf of the impressions from ``first`` to ``last``."""
        for number in range(first, last + 1):
            impression = self.index.impressions[number - 1]
            if impression.ink is None:
                self._finish(impression, number - 1)
        return self.picture

    def _finish(self, impression: Impression, place: int) -> None:
        window, scale = self.window, self.window.pixels_per_mm
        if impression.kind == "leaf":
            share = _whole(self.painted(self.index.areas, place), window)
            gild(
                self.picture,
                share,
                srgb_hex=impression.srgb_hex,
                leaves=self.index.leaves.get(impression.number, ()),
                origin_mm=(window.x_mm, window.y_mm),
                pixels_per_mm=scale,
            )
            return
        room = edge_room_px(scale)
        wide = Window(
            window.x_mm - room / scale,
            window.y_mm - room / scale,
            window.width_px + 2 * room,
            window.height_px + 2 * room,
            scale,
        )
        painted = paint_prepared(self.index.areas, wide, first=place, last=place + 1)
        if painted is not None:
            press(self.picture, _whole(painted, wide), side=impression.side, pixels_per_mm=scale)

    def after(self, number: int) -> "_Sheet":
        """Lay all impressions up to a number."""
        for place in range(self.place(number) + 1 if number else 0):
            self.lay(place, self.painted(self.index.areas, place))
        return self


def _together(regions: NDArray[np.object_]) -> MultiPolygon:
    return shapely.multipolygons(regions) if len(regions) else MultiPolygon()


def _whole(painted: Painted | None, window: Window) -> NDArray[np.float32]:
    """What is painted, in the whole window."""
    share = np.zeros((window.height_px, window.width_px), dtype=np.float32)
    if painted is not None:
        share[painted.rows, painted.columns] = painted.share
    return share


def _levels(srgb_hex: str) -> list[int]:
    return [int(srgb_hex[i : i + 2], 16) for i in (1, 3, 5)]


def _run_levels(run: Run, painted: Painted, window: Window) -> NDArray[np.float32]:
    """The colours of a run where it is painted, sRGB, 0 to 255."""
    scale, (height, width) = window.pixels_per_mm, painted.share.shape
    places = pixel_places(
        origin_mm=(window.x_mm + painted.columns.start / scale, window.y_mm + painted.rows.start / scale),
        pixels_per_mm=scale,
        width_px=width,
        height_px=height,
    )
    return run_levels(run, places).reshape(height, width, 3).astype(np.float32)


def _less(area: Painted, own: Painted | None, window: Window) -> NDArray[np.float32]:
    """What an area covers beyond its own shapes, in the whole window: each area holds its own shapes."""
    rest = np.zeros((window.height_px, window.width_px), dtype=np.float32)
    rest[area.rows, area.columns] = area.share
    if own is not None:
        rest[own.rows, own.columns] -= own.share
    return np.maximum(rest, np.float32(0.0))


@njit(cache=True, nogil=True)
def _mix(picture, share, change):  # type: ignore[no-untyped-def]
    """Add ``change`` to the pixels as far as they are covered."""
    height, width = share.shape
    for y in range(height):
        for x in range(width):
            if share[y, x] > 0.0:
                for band in range(3):
                    picture[y, x, band] += share[y, x] * change[band]


@njit(cache=True, nogil=True)
def _mean_light(before, picture, share, light, codes):  # type: ignore[no-untyped-def]
    """Leave only a ``share`` of the change since ``before``, as light adds."""
    height, width, bands = picture.shape
    top = len(codes) - 1
    for y in range(height):
        for x in range(width):
            for band in range(bands):
                was, now = before[y, x, band], picture[y, x, band]
                if was != now:
                    mean = light[was] + share * (light[now] - light[was])
                    picture[y, x, band] = codes[int(mean * top + 0.5)]


@njit(cache=True, nogil=True)
def _stripe(picture, share, paper, stripe, phase):  # type: ignore[no-untyped-def]
    """Lay stripes that rise to the right over the pixels as far as they are covered."""
    height, width = share.shape
    for y in range(height):
        for x in range(width):
            if share[y, x] < 0.004:
                continue
            across = ((x + y + 1.0 + phase) / np.sqrt(2.0)) % _HATCH_PX
            from_middle = min(across, _HATCH_PX - across)
            inked = min(max(0.5 + _STRIPE_PX / 2.0 - from_middle, 0.0), 1.0)
            for band in range(3):
                was = float(picture[y, x, band])
                ground = was + _CLEARED * (paper[band] - was)
                now = ground + inked * (stripe[band] - ground)
                picture[y, x, band] = np.uint8(was + share[y, x] * (now - was) + 0.5)


__all__ = [
    "DesignIndex",
    "PrintIndex",
    "Window",
    "index_design",
    "index_print",
    "paint_after",
    "paint_alone",
    "paint_shapes",
    "paint_under",
    "printed_with",
]

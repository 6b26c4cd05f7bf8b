"""Reading a calibration sheet: from a scan or a photo to the colour of every patch, relative to the paper.

The page is found by its marks and laid straight; every patch is averaged over its inner part in linear light,
without specks; uneven light is judged by the bare paper all over the page and divided out. What is left is
what the patch sends back compared with bare paper at the same place, times the colour that the paper has.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from blockwright.colour.difference import delta_e00
from blockwright.colour.srgb import linear_to_lab, srgb_to_linear
from blockwright.inks.light import PageLight, fit_light
from blockwright.inks.marks import FoundPage, find_page
from blockwright.model.errors import InkError
from blockwright.model.swatches import PatchPlace, RectMm, SwatchPage
from blockwright.model.units import Lab, Rgb

INSET_MM = 3.0
"""The rim of a patch that is not looked at: edges bleed, and the box's line and words stand there."""

MOST_READ_PX_PER_MM = 8.0
"""The page is laid straight at no more than this; a patch then has some thousand pixels."""

LEAST_PAPER_PLACES = 8
CLIPPED, MOST_CLIPPED = 254, 0.02
"""A coded value that counts as burnt out, and what part of the bare paper may be."""

MOST_CUT_OFF, NEARLY_BLACK_L = 0.2, 15.0
"""What part of a patch may have no red, green or blue at all, unless it is darker than this L*."""

MOST_BURNT_OUT = 0.5
"""What part of a patch may have all of one that there is: paler inks on a bright scan come near it."""

UNEVEN_DELTA_E00 = 2.0
"""A patch more uneven than this from square millimetre to square millimetre is told of [CP]."""

LEAST_INK_DELTA_E00 = 1.5
"""A row that nowhere on paper differs from it by more was not printed [CP]."""

DARK_ENOUGH_L = 50.0
"""A black ground lighter than this is none."""

ODD_PLACES = 0.25
"""More of the places of bare paper may not misfit without a word."""

_SPECK = 4.0
"""Pixels farther from the middle than this many standard deviations are specks."""

_CELL_MM = 1.0

Correction = Callable[[NDArray[np.float64]], NDArray[np.float64]]
"""From linear light as scanned to true linear sRGB, both of shape (n, 3)."""

_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Weights of linear red, green and blue in luminance (IEC 61966-2-1)."""


@dataclass(frozen=True, slots=True)
class PatchReading:
    """A patch as read: linear sRGB with the paper's own colour, CIELAB (D65), and how uneven it is.

    ``relative`` is its linear light over that of bare paper; ``spread_delta_e00`` the root mean square
    difference of its square millimetres from their mean; ``cut_off`` says that the picture, which is sRGB,
    could not hold so strong or so bright a colour: what was read is a bound.
    """

    patch: PatchPlace
    relative: Rgb
    linear: Rgb
    lab: Lab
    spread_delta_e00: float
    cut_off: bool = False


@dataclass(frozen=True, slots=True)
class SheetReading:
    """A page as read.

    ``paper_linear`` is the colour that was given to bare paper; ``scanned_paper_linear`` what the picture has
    for it. ``light_fall_percent`` is by how much the darkest place of the page was lit less than the
    brightest. ``notes`` are plain sentences on what is missing or doubtful.
    """

    page: SwatchPage
    patches: tuple[PatchReading, ...]
    paper_linear: Rgb
    scanned_paper_linear: Rgb
    marks_missing: tuple[str, ...]
    mark_error_mm: float
    pixels_per_mm: float
    light_fall_percent: float
    notes: tuple[str, ...]


def read_sheet(
    pixels: NDArray[np.uint8],
    pages: Sequence[SwatchPage],
    *,
    paper_linear: Rgb | None = None,
    correct: Correction | None = None,
    name: str = "the picture",
) -> SheetReading:
    """Read a picture of shape (height, width, 3), sRGB 0..255, of one of the pages of a calibration sheet.

    ``paper_linear`` is the paper's true colour in linear sRGB; without it the picture's own is believed.
    ``correct`` brings the linear light of the scanner to true linear sRGB, shape (n, 3) to (n, 3)
    (:mod:`blockwright.inks.scanner`).
    Raises InkError in one sentence, in which the picture is called ``name``, when the page cannot be found
    (:func:`blockwright.inks.marks.find_page`), or when too little bare paper is seen.
    """
    found = find_page(pixels, pages, name=name)
    straight = _Straight.of(pixels, found)
    light, notes = _light(straight, found, name)
    read = {patch: straight.patch(patch.box) for patch in found.page.patches if straight.whole(patch.box)}
    paper = np.mean([light.at(_centre(p.box))[0] for p in read if p.kind == "paper"], axis=0) * light.pasted
    look = _Look(light, paper, correct or _unchanged, paper_linear)
    patches = tuple(_patch_reading(patch, seen, look) for patch, seen in read.items())
    lit = light.at(np.array([_centre(patch.box)[0] for patch in read])) @ _LUMINANCE
    missing = tuple(dict.fromkeys(mark.name for mark in found.missing))
    return SheetReading(
        page=found.page,
        patches=patches,
        paper_linear=_rgb(look.paper()),
        scanned_paper_linear=_rgb(paper),
        marks_missing=missing,
        mark_error_mm=found.error_mm,
        pixels_per_mm=found.pixels_per_mm,
        light_fall_percent=100.0 * float(1.0 - lit.min() / lit.max()),
        notes=(*_notes_on_marks(found, read), *notes, *_notes_on_patches(patches, found.page)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Straight:
    """The page laid straight: coded pixels, ``scale`` of them to the mm, and which are in the picture."""

    pixels: NDArray[np.uint8]
    inside: NDArray[np.uint8]
    scale: float

    @staticmethod
    def of(pixels: NDArray[np.uint8], found: FoundPage) -> "_Straight":
        scale = min(MOST_READ_PX_PER_MM, found.pixels_per_mm)
        plan = found.page.plan
        size = (round(plan.width_mm * scale), round(plan.height_mm * scale))
        # Centres of pixels are whole numbers; the page's first has its centre half a pixel in.
        half = 0.5 / scale
        to_mm = np.array([[1.0 / scale, 0.0, half], [0.0, 1.0 / scale, half], [0.0, 0.0, 1.0]])
        matrix = found.to_picture @ to_mm
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        laid = np.asarray(
            cv2.warpPerspective(np.ascontiguousarray(pixels), matrix, size, flags=flags), np.uint8
        )
        whole = np.full(pixels.shape[:2], 255, dtype=np.uint8)
        inside = np.asarray(cv2.warpPerspective(whole, matrix, size, flags=flags), np.uint8)
        return _Straight(laid, inside, scale)

    def _slices(self, box: RectMm, inset: float) -> tuple[slice, slice]:
        x, y, width, height = box
        left, right = round((x + inset) * self.scale), round((x + width - inset) * self.scale)
        top, foot = round((y + inset) * self.scale), round((y + height - inset) * self.scale)
        return slice(max(top, 0), foot), slice(max(left, 0), right)

    def whole(self, box: RectMm) -> bool:
        """Whether all of a box lies within the picture."""
        part = self.inside[self._slices(box, 0.0)]
        return part.size > 0 and bool((part == 255).all())

    def patch(self, box: RectMm) -> NDArray[np.uint8]:
        """The inner part of a patch, coded."""
        return self.pixels[self._slices(box, INSET_MM)]

    def spot(self, box: RectMm) -> NDArray[np.uint8]:
        """All of a small place, coded."""
        return self.pixels[self._slices(box, 0.0)]


def _light(straight: _Straight, found: FoundPage, name: str) -> tuple[PageLight, list[str]]:
    """The light over the page, and what is to be said about the bare paper."""
    page = found.page
    boxes = [(box, False) for box in page.light_spots if straight.whole(box)]
    boxes += [(p.box, True) for p in page.patches if p.kind == "paper" and straight.whole(p.box)]
    patches = [box for box, bare in boxes if bare]
    if len(boxes) < LEAST_PAPER_PLACES or not patches:
        raise InkError(f"Too little of the bare paper of the sheet is seen in {name}.")
    seen = [straight.patch(box) if bare else straight.spot(box) for box, bare in boxes]
    places = np.concatenate([_centre(box) for box, _ in boxes])
    bare = np.array([each for _, each in boxes])
    light = fit_light(
        places,
        np.array([_without_specks(each) for each in seen]),
        bare,
        size_mm=(page.plan.width_mm, page.plan.height_mm),
    )
    notes = []
    paper = np.concatenate([part.reshape(-1, 3) for part, own in zip(seen, bare, strict=True) if own])
    if float((paper >= CLIPPED).any(axis=1).mean()) > MOST_CLIPPED:
        notes.append(
            f"The bare paper is burnt out in {name}, so light colours are read too dark; expose less, or "
            "switch the scanner's corrections off."
        )
    if float(light.odd.mean()) > ODD_PLACES:
        notes.append("Much of the bare paper is stained or shaded; the evenness of the light is doubtful.")
    if float(np.abs(np.log(light.pasted)).max()) > 0.02:
        notes.append(
            "The bare patches differ from the page round them, as pasted pieces do; they are the paper."
        )
    return light, notes


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """What turns the light of a place of the picture into a colour."""

    light: PageLight
    scanned_paper: NDArray[np.float64]
    correct: Correction
    paper_linear: Rgb | None

    def paper(self) -> NDArray[np.float64]:
        """The colour of bare paper."""
        if self.paper_linear is not None:
            return np.array(self.paper_linear)
        paper: NDArray[np.float64] = self.correct(self.scanned_paper[None])[0]
        return paper

    def colour(self, relative: NDArray[np.float64]) -> NDArray[np.float64]:
        """The linear colour of what sends back ``relative`` of the paper's light; shape (n, 3)."""
        true = self.correct(relative * self.scanned_paper)
        colours: NDArray[np.float64] = true * self.paper() / self.correct(self.scanned_paper[None])
        return colours


def _unchanged(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    return linear


def _patch_reading(patch: PatchPlace, seen: NDArray[np.uint8], look: _Look) -> PatchReading:
    lit = look.light.at(_centre(patch.box)) * look.light.pasted
    relative = _without_specks(seen) / lit[0]
    linear = look.colour(relative[None])[0]
    cells = cv2.resize(
        srgb_to_linear(seen / 255.0),
        (
            max(2, round((patch.box[2] - 2 * INSET_MM) / _CELL_MM)),
            max(2, round((patch.box[3] - 2 * INSET_MM) / _CELL_MM)),
        ),
        interpolation=cv2.INTER_AREA,
    )
    shown = look.colour(np.asarray(cells, dtype=np.float64).reshape(-1, 3) / lit)
    apart = delta_e00(linear_to_lab(shown), linear_to_lab(linear))
    lightness, a, b = linear_to_lab(linear).tolist()
    spread = float(np.sqrt((apart**2).mean()))
    none = ((seen == 0).mean(axis=(0, 1)) > MOST_CUT_OFF).any()
    full = ((seen == 255).mean(axis=(0, 1)) > MOST_BURNT_OUT).any()
    cut_off = bool(full or (none and lightness > NEARLY_BLACK_L))
    return PatchReading(patch, _rgb(relative), _rgb(linear), (lightness, a, b), spread, cut_off)


def _without_specks(seen: NDArray[np.uint8]) -> NDArray[np.float64]:
    """The mean linear light, shape (3,), of coded pixels, without those that are far from the middle."""
    linear = srgb_to_linear(seen.reshape(-1, 3) / 255.0)
    light = linear @ _LUMINANCE
    away = np.abs(light - np.median(light))
    kept = away <= _SPECK * max(1.4826 * float(np.median(away)), 1e-3)
    mean: NDArray[np.float64] = linear[kept].mean(axis=0)
    return mean


def _notes_on_marks(found: FoundPage, read: dict[PatchPlace, NDArray[np.uint8]]) -> list[str]:
    notes = []
    if found.missing:
        names = ", ".join(dict.fromkeys(mark.name for mark in found.missing))
        notes.append(
            f"{len(found.missing)} of {len(found.page.marks)} marks are missing ({names}); "
            "the others are enough, but look whether patches there are whole."
        )
    lost = [patch.code for patch in found.page.patches if patch not in read]
    if lost:
        notes.append(f"Not in the picture, and left out: {', '.join(lost)}.")
    return notes


def _notes_on_patches(patches: Sequence[PatchReading], page: SwatchPage) -> list[str]:
    notes = []
    uneven = [
        p.patch.code for p in patches if p.patch.kind == "ink" and p.spread_delta_e00 > UNEVEN_DELTA_E00
    ]
    if uneven:
        notes.append(f"Printed unevenly: {', '.join(uneven)}; their mean is used.")
    strong = [p.patch.code for p in patches if p.cut_off]
    if strong:
        notes.append(
            f"Stronger or brighter than a picture in sRGB can hold, and read too weak: {', '.join(strong)}; "
            "left out where the row has others on that ground, and counted for little where it has none."
        )
    empty = [page.plan.rows[row].name for row in unprinted_rows(patches)]
    if empty:
        notes.append(f"Not printed, as it seems, and left out: {', '.join(empty)}.")
    black = [p.lab[0] for p in patches if p.patch.kind == "black"]
    if black and np.median(black) > DARK_ENOUGH_L:
        notes.append(
            f"The black ground is missing or grey (L* {np.median(black):.0f}); what stands on it is left out."
        )
    return notes


def unprinted_rows(patches: Sequence[PatchReading]) -> tuple[int, ...]:
    """The rows of the plan whose patches on paper are all bare."""
    paper = [p.lab for p in patches if p.patch.kind == "paper"]
    rows = sorted({p.patch.row for p in patches if p.patch.row is not None})
    middle = np.median(np.array(paper), axis=0)
    return tuple(
        row
        for row in rows
        if all(
            float(delta_e00(p.lab, middle)) < LEAST_INK_DELTA_E00
            for p in patches
            if p.patch.row == row and p.patch.ground == "paper"
        )
    )


def black_is_there(patches: Sequence[PatchReading]) -> bool:
    """Whether the black ground was printed."""
    black = [p.lab[0] for p in patches if p.patch.kind == "black"]
    return bool(black) and bool(np.median(black) <= DARK_ENOUGH_L)


def trusted_patches(patches: Sequence[PatchReading]) -> tuple[PatchReading, ...]:
    """The patches that inks can be found from.

    Left out are rows that were not printed, what stands on a black ground that is missing, and patches that
    are cut off while others of their row on that ground are not.
    """
    empty, black = unprinted_rows(patches), black_is_there(patches)
    whole = {(p.patch.row, p.patch.ground) for p in patches if not p.cut_off}
    return tuple(
        p
        for p in patches
        if p.patch.row not in empty
        and (black or p.patch.ground != "black")
        and not (p.cut_off and (p.patch.row, p.patch.ground) in whole)
    )


def _centre(box: RectMm) -> NDArray[np.float64]:
    """The middle of a box, shape (1, 2)."""
    return np.array([[box[0] + box[2] / 2.0, box[1] + box[3] / 2.0]])


def _rgb(values: NDArray[np.float64]) -> Rgb:
    red, green, blue = values.tolist()
    return (red, green, blue)

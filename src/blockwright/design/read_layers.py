"""Layers of samples as files hold them, and how they are laid over one another on the paper."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.design.read_colour import (
    Samples,
    ToSrgb,
    as_rgb,
    gamma_table,
    profile_conversion,
    to_eight_bits,
)
from blockwright.model.findings import Finding

BAND_PIXELS = 1 << 18
"""Pixels worked on at a time: the intermediate values stay in the processor's cache, and memory small."""


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """One layer: (H, W, C) samples, C = 1 grey, 2 grey and alpha, 3 RGB, 4 RGB and alpha, upright.

    ``gamma`` counts only without a ``profile``. ``premultiplied`` says that colour was stored times alpha.
    """

    samples: Samples
    profile: bytes | None = None
    gamma: float | None = None
    premultiplied: bool = False

    @property
    def has_alpha(self) -> bool:
        """Whether the last band is the alpha."""
        return self.samples.shape[2] in {2, 4}


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """What a file holds: its layers, lowest first, decoded one by one, and what is known about them."""

    layers: Iterable[Layer]
    pixels_per_mm: float | None
    notes: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """The layers laid over one another: (H, W, 3) sRGB, whether anything was painted, and the notes."""

    pixels: NDArray[np.uint8]
    painted: bool
    notes: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Opened:
    """A layer with everything that is the same for all its bands."""

    layer: Layer
    conversion: ToSrgb | None
    table: NDArray[np.uint8] | None

    @property
    def is_plain(self) -> bool:
        """Whether the samples are the result already."""
        return self.has_room_for_itself and self.conversion is None and self.table is None

    @property
    def has_room_for_itself(self) -> bool:
        """Whether the samples' own memory can take the result."""
        samples = self.layer.samples
        flags = samples.flags
        return bool(
            samples.dtype == np.uint8 and samples.shape[2] == 3 and flags.c_contiguous and flags.writeable
        )

    def band(self, top: int, bottom: int) -> tuple[NDArray[np.uint8], NDArray[np.uint8] | None]:
        """Give rows ``top`` to ``bottom`` as (h, w, 3) sRGB, and their (h, w) alpha where not all opaque."""
        colour = self.layer.samples[top:bottom]
        alpha: NDArray[np.uint8] | None = None
        if self.layer.has_alpha:
            colour, own_alpha = colour[..., :-1], colour[..., -1]
            if self.layer.premultiplied:
                colour = _unmultiplied(colour, own_alpha)
            alpha = to_eight_bits(own_alpha)
            if alpha.min() == 255:
                alpha = None
        eight = to_eight_bits(colour) if self.table is None else self.table[colour]
        return (self.conversion(eight) if self.conversion else as_rgb(eight)), alpha

    def lay_on(self, pixels: NDArray[np.uint8], paper: tuple[int, int, int] | None) -> tuple[bool, bool]:
        """Lay the layer on the (H, W, 3) pixels, or on ``paper`` when it is the lowest.

        Tells whether something was painted, and whether something shows through.
        """
        painted = see_through = False
        for top, bottom in _bands(*pixels.shape[:2]):
            colour, alpha = self.band(top, bottom)
            below = pixels[top:bottom]
            if alpha is None:
                below[...] = colour
                painted = True
                continue
            see_through = True
            painted = painted or bool(alpha.any())
            below[...] = _over(colour, alpha, below if paper is None else np.array(paper, np.uint8))
        return painted, see_through


def lay_over_paper(layers: Iterable[Layer], paper: tuple[int, int, int]) -> Laid:
    """Lay layers over the paper, lowest first, in sRGB's coded values as painting programs do.

    All layers have one size. A lowest layer of plain 8-bit RGB becomes the result itself, without a copy.
    """
    pixels: NDArray[np.uint8] | None = None
    notes: list[Finding] = []
    painted = False
    for layer in layers:
        opened, found = _open(layer)
        notes += (note for note in found if note not in notes)
        if pixels is None:
            own = layer.samples
            if opened.has_room_for_itself:
                pixels = own.astype(np.uint8, copy=False)
            else:
                pixels = np.empty((*own.shape[:2], 3), np.uint8)
            if opened.is_plain:
                painted = True
                continue
            painted, see_through = opened.lay_on(pixels, paper)
            if see_through:
                message = f"Transparent parts were laid over the paper colour #{bytes(paper).hex()}."
                notes.append(Finding("transparency-over-paper", "note", message))
        else:
            painted = opened.lay_on(pixels, None)[0] or painted
    if pixels is None:
        raise ValueError("a sheet without layers")
    return Laid(pixels, painted, tuple(notes))


def upright(samples: Samples, orientation: int) -> Samples:
    """Turn samples stored in one of the eight orientations of Exif (JEITA CP-3451, tag 274) upright.

    Gives a view. An orientation outside 1 to 8 counts as 1.
    """
    if orientation in {5, 6, 7, 8}:
        samples = samples.swapaxes(0, 1)
    if orientation in {2, 3, 6, 7}:
        samples = samples[:, ::-1]
    if orientation in {3, 4, 7, 8}:
        samples = samples[::-1]
    return samples


def _open(layer: Layer) -> tuple[_Opened, tuple[Finding, ...]]:
    if layer.profile is not None:
        conversion, notes = profile_conversion(layer.profile, grey=layer.samples.shape[2] < 3)
        return _Opened(layer, conversion, None), notes
    table, notes = gamma_table(layer.gamma, int(np.iinfo(layer.samples.dtype).max))
    return _Opened(layer, None, table), notes


def _bands(height: int, width: int) -> Iterator[tuple[int, int]]:
    rows = max(1, BAND_PIXELS // width)
    for top in range(0, height, rows):
        yield top, min(top + rows, height)


def _over(
    colour: NDArray[np.uint8], alpha: NDArray[np.uint8], below: NDArray[np.uint8]
) -> NDArray[np.uint16]:
    """Colour over what lies below, rounded to the nearest level (Porter and Duff 1984, 'over')."""
    opaque = alpha[..., None].astype(np.uint16)
    mixed = colour * opaque
    mixed += below * (255 - opaque)
    # x / 255 rounded, exact for x up to 65,535: (x + 128 + ((x + 128) >> 8)) >> 8.
    mixed += 128
    mixed += mixed >> 8
    mixed >>= 8
    return mixed


def _unmultiplied(colour: Samples, alpha: Samples) -> Samples:
    """Take the alpha out of colour that was stored times alpha (TIFF 6.0, associated alpha)."""
    largest = int(np.iinfo(colour.dtype).max)
    wide = np.maximum(alpha, 1)[..., None].astype(np.uint64)
    plain = (colour.astype(np.uint64) * largest + wide // 2) // wide
    unmultiplied: Samples = np.minimum(plain, largest).astype(colour.dtype)
    return unmultiplied

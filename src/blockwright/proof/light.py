"""The light that a sheet sends back, pixel by pixel, while inks are laid over one another.

Every pixel remembers which inks lie on it, in their order: its stack. A stack has one reflectance in 36
bands, found once by the layer formula, however many pixels share it. A pixel that an ink covers in part is a
mixture: so much of it shows one stack, so much another; light adds, so its colour is their mean in linear
light. Nothing is rounded to three bands on the way.

A layer that is brushed out lies as a film of another share in every pixel. Its stack then has not one colour
but a table of them, over the share of each of its gradated films, and a pixel reads its own between the
nodes, in linear light: :mod:`blockwright.proof.film_tables`.
"""

import threading
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.colour import (
    layer_reflectance,
    linear_to_srgb,
    reflectance_to_display,
    reflectance_to_linear,
    srgb_to_linear,
)
from blockwright.geometry.running import film_share_of_pixels
from blockwright.model.separation import Gradation
from blockwright.proof.film_tables import MOST_RUNNING, laid_over, read_table, table_rows

_MOST_PARTS = 8
"""Stacks that one pixel can show side by side: three edges within one pixel are exact. Of more, which meet
in a few pixels of a print, the least counts as the one nearest to it in colour."""

_WHOLE = 0.999
"""A pixel that is covered by this much counts as covered: a quarter of a step of an 8-bit picture."""

_FILM_STEPS = 65535
"""Steps in which the share of a gradated film is kept for every pixel."""

_PLACES_AT_ONCE = 500_000
"""Pixels whose places are worked out together: some 30 MB."""

_STEPS = 65535
"""Entries, less one, of the table from linear light to 8-bit sRGB: at its steepest, in the darkest tones, a
step of the table is a twentieth of a step of the picture."""

CODES: NDArray[np.uint8] = np.rint(255.0 * linear_to_srgb(np.arange(_STEPS + 1) / _STEPS)).astype(np.uint8)
"""From linear light in steps of 1 / 65535 to 8-bit sRGB."""
CODES.flags.writeable = False

LIGHT: NDArray[np.float64] = srgb_to_linear(np.arange(256) / 255.0)
"""From 8-bit sRGB to linear light."""
LIGHT.flags.writeable = False


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """One impression's ink as it lies on the sheet: ``k`` and ``s``, shape (36,), of a film ``thickness``.

    With a ``gradation`` that is the full film, of which it lays a share.
    """

    k: NDArray[np.float64]
    s: NDArray[np.float64]
    thickness: float
    gradation: Gradation | None = None


class Stacks:
    """The stacks that are met on sheets of one paper, and their colours; any thread may ask.

    Stack 0 is the bare paper. ``paper`` is its reflectance, shape (36,).
    """

    def __init__(self, paper: NDArray[np.float64], layers: Sequence[Layer]) -> None:
        self.layers = tuple(layers)
        self._lock = threading.Lock()
        self._seen = paper[None, :]
        self._after: dict[int, NDArray[np.int32]] = {}
        self.linear = _linear(self._seen)
        """Linear sRGB to show, shape (rows, 3), float32; what a screen cannot show is brought into sRGB. A
        stack of flat layers has one row, one with gradated films a table."""
        self.first = np.zeros(1, dtype=np.int64)
        """The first row of every stack."""
        self.runs = np.full((1, MOST_RUNNING), -1, dtype=np.int64)
        """The gradated films of every stack, counted among all that there are, the lowest first; -1: none."""
        graded = [k for k, layer in enumerate(self.layers) if layer.gradation is not None]
        self.film_of = {layer: film for film, layer in enumerate(graded)}
        """The gradated layers, and what number each one's film has."""

    def __len__(self) -> int:
        return len(self.first)

    def after(self, layer: int, below: NDArray[np.int64]) -> NDArray[np.int32]:
        """The stacks, by the stack beneath, that a layer makes of the stacks ``below``; -1 elsewhere."""
        with self._lock:
            known = self._after.get(layer, np.empty(0, dtype=np.int32))
            if len(known) < len(self):
                grown = np.full(len(self), -1, dtype=np.int32)
                grown[: len(known)] = known
                known = grown
            new = below[known[below] < 0]
            if len(new):
                known[new] = np.arange(len(self), len(self) + len(new), dtype=np.int32)
                self._grow(self.layers[layer], self.film_of.get(layer), new)
            self._after[layer] = known
            return known

    def _grow(self, ink: Layer, film: int | None, below: NDArray[np.int64]) -> None:
        """Add the stacks that an ink makes of those below."""
        if film is None and not (self.runs[below, 0] >= 0).any():
            seen, runs = self._over(ink, below), self.runs[below]
            starts = len(self._seen) + np.arange(len(seen), dtype=np.int64)
        else:
            tables, kept = zip(*(self._table(ink, film, stack) for stack in below.tolist()), strict=True)
            seen, runs = np.concatenate(tables), np.array(kept, dtype=np.int64)
            sizes = np.array([0, *(len(table) for table in tables[:-1])], dtype=np.int64)
            starts = len(self._seen) + np.cumsum(sizes)
        self._seen = np.concatenate([self._seen, seen])
        self.linear = np.concatenate([self.linear, _linear(seen)])
        self.first, self.runs = np.concatenate([self.first, starts]), np.concatenate([self.runs, runs])

    def _over(self, ink: Layer, below: NDArray[np.int64]) -> NDArray[np.float64]:
        return layer_reflectance(ink.k, ink.s, ink.thickness, self._seen[self.first[below]])

    def _table(self, ink: Layer, film: int | None, stack: int) -> tuple[NDArray[np.float64], list[int]]:
        """The table of a stack with an ink over it, and the films that it runs over."""
        own = self.runs[stack][self.runs[stack] >= 0].tolist()
        rows = self._seen[self.first[stack] : self.first[stack] + table_rows(len(own))]
        full = ink.thickness
        if film is not None and len(own) == MOST_RUNNING and ink.gradation is not None:
            film, full = None, full * float(np.mean(ink.gradation.ramp))
        table = laid_over(rows, len(own), ink.k, ink.s, full, graded=film is not None)
        films = own if film is None else [*own, film]
        return table, films + [-1] * (MOST_RUNNING - len(films))


class SheetLight:
    """A sheet, or a window of one, under way; it begins as bare paper.

    ``origin_mm`` is the place of its upper left corner: gradations ask where their pixels are.
    """

    def __init__(
        self,
        stacks: Stacks,
        *,
        height_px: int,
        width_px: int,
        origin_mm: tuple[float, float] = (0.0, 0.0),
        pixels_per_mm: float = 1.0,
    ) -> None:
        self.stacks, self._origin_mm, self._scale = stacks, origin_mm, pixels_per_mm
        films = len(stacks.film_of)
        size = (height_px, width_px) if films else (1, 1)
        self._films = np.zeros((max(films, 1), *size), dtype=np.uint16)
        self._stack = np.zeros((height_px, width_px), dtype=np.int32)
        self._part_stack = np.zeros((0, _MOST_PARTS), dtype=np.int32)
        self._part_share = np.zeros((0, _MOST_PARTS), dtype=np.float32)
        self._mixed = 0
        self._shown = np.empty((height_px, width_px, 3), dtype=np.uint8)
        self._shown[:] = _coded(stacks.linear[0])
        self._stale: list[tuple[slice, slice, NDArray[np.float32]]] = []

    @property
    def picture(self) -> NDArray[np.uint8]:
        """What it looks like now, 8-bit sRGB of shape (height, width, 3): shown when it is asked for."""
        if self._stale:
            stale = np.zeros(self._stack.shape, dtype=np.bool_)
            for rows, columns, share in self._stale:
                stale[rows, columns] |= share > 0.0
            self._stale.clear()
            stacks = self.stacks
            parts = (self._part_stack, self._part_share)
            tables = (stacks.linear, stacks.first, stacks.runs)
            flat = _coded(stacks.linear[stacks.first])
            _show(self._stack, stale, self._shown, parts, tables, flat, self._films, CODES)
        return self._shown

    def lay(self, layer: int, rows: slice, columns: slice, share: NDArray[np.float32]) -> None:
        """Lay an ink where it covers: ``share``, 0 to 1, of each pixel of ``rows`` and ``columns``."""
        stack = self._stack[rows, columns]
        met = np.zeros(len(self.stacks), dtype=np.bool_)
        new = int(_mark(stack, share, self._part_stack, self._part_share, met))
        if self.stacks.film_of:
            self._brush(layer, self._films[:, rows, columns], rows.start, columns.start, share)
        after = self.stacks.after(layer, np.flatnonzero(met))
        self._make_room(new)
        self._mixed = int(
            _lay(
                stack,
                share,
                self._part_stack,
                self._part_share,
                self._mixed,
                after,
                self.stacks.linear,
                self.stacks.first,
            )
        )
        self._stale.append((rows, columns, share))

    def _brush(
        self, layer: int, films: NDArray[np.uint16], top: int, left: int, share: NDArray[np.float32]
    ) -> None:
        """Tell each pixel that is covered the share of the full film that a gradation lays there."""
        gradation = self.stacks.layers[layer].gradation
        if gradation is None:
            return
        film, (height, width) = films[self.stacks.film_of[layer]], share.shape
        at_once = max(1, _PLACES_AT_ONCE // max(width, 1))
        for row in range(0, height, at_once):
            some = share[row : row + at_once]
            origin_mm = (
                self._origin_mm[0] + left / self._scale,
                self._origin_mm[1] + (top + row) / self._scale,
            )
            laid = film_share_of_pixels(
                gradation,
                some > 0.0,
                origin_mm=origin_mm,
                pixels_per_mm=self._scale,
            )
            film[row : row + at_once] = np.rint(laid * _FILM_STEPS)

    def _make_room(self, new: int) -> None:
        short = self._mixed + new - len(self._part_stack)
        if short > 0:
            more = max(short, len(self._part_stack))
            self._part_stack = np.concatenate([self._part_stack, np.zeros((more, _MOST_PARTS), np.int32)])
            self._part_share = np.concatenate([self._part_share, np.zeros((more, _MOST_PARTS), np.float32)])


def _linear(seen: NDArray[np.float64]) -> NDArray[np.float32]:
    light = reflectance_to_linear(seen)
    shown = reflectance_to_display(seen)
    return np.where(shown.mapped[:, None], srgb_to_linear(shown.srgb), light).astype(np.float32)


def _coded(linear: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Linear light as 8-bit sRGB."""
    return CODES[np.rint(np.clip(linear, 0.0, 1.0) * _STEPS).astype(np.int64)]


@njit(cache=True, nogil=True)
def _mark(stack, share, part_stack, part_share, met):  # type: ignore[no-untyped-def]
    """Mark the stacks that are covered, and count the pixels that become mixtures."""
    height, width = share.shape
    new = 0
    for y in range(height):
        for x in range(width):
            if share[y, x] <= 0.0:
                continue
            here = stack[y, x]
            if here >= 0:
                met[here] = True
                if share[y, x] < _WHOLE:
                    new += 1
            else:
                for part in range(_MOST_PARTS):
                    if part_share[-here - 1, part] > 0.0:
                        met[part_stack[-here - 1, part]] = True
    return new


@njit(cache=True, nogil=True)
def _lay(stack, share, part_stack, part_share, mixed, after, linear, first):  # type: ignore[no-untyped-def]
    """Lay one ink; tells how many mixtures there are now.

    A pixel's stack is 0 or more; below 0 it is -1 less the place of its mixture.
    """
    height, width = share.shape
    stacks = np.empty(2 * _MOST_PARTS, dtype=np.int32)
    shares = np.empty(2 * _MOST_PARTS, dtype=np.float32)
    for y in range(height):
        for x in range(width):
            covered = share[y, x]
            if covered <= 0.0:
                continue
            here = stack[y, x]
            if here >= 0 and covered >= _WHOLE:
                stack[y, x] = after[here]
                continue
            if here >= 0:
                place = mixed
                mixed += 1
                stack[y, x] = -place - 1
                part_stack[place, 0], part_share[place, 0] = here, 1.0
                for part in range(1, _MOST_PARTS):
                    part_share[place, part] = 0.0
            else:
                place = -here - 1
            count = _cover(part_stack[place], part_share[place], min(covered, 1.0), after, stacks, shares)
            count = _at_most(stacks, shares, count, linear, first)
            for part in range(_MOST_PARTS):
                part_share[place, part] = shares[part] if part < count else 0.0
                part_stack[place, part] = stacks[part] if part < count else 0
    return mixed


@njit(cache=True, nogil=True)
def _show(stack, stale, picture, parts, tables, flat, films, codes):  # type: ignore[no-untyped-def]
    """Show the pixels that changed; ``flat`` (n, 3) is what stacks without a gradated film look like."""
    part_stack, part_share = parts
    linear, first, runs = tables
    height, width = stack.shape
    top = len(codes) - 1
    shown, part_shown = np.empty(3, dtype=np.float32), np.empty(3, dtype=np.float32)
    for y in range(height):
        for x in range(width):
            if not stale[y, x]:
                continue
            here = stack[y, x]
            if here >= 0 and runs[here, 0] < 0:
                for band in range(3):
                    picture[y, x, band] = flat[here, band]
                continue
            if here >= 0:
                read_table(linear, first, runs, here, films, y, x, shown)
            else:
                shown[:] = 0.0
                for part in range(_MOST_PARTS):
                    share = part_share[-here - 1, part]
                    if share > 0.0:
                        own = part_stack[-here - 1, part]
                        read_table(linear, first, runs, own, films, y, x, part_shown)
                        for band in range(3):
                            shown[band] += share * part_shown[band]
            for band in range(3):
                picture[y, x, band] = codes[int(min(max(shown[band], 0.0), 1.0) * top + 0.5)]


@njit(cache=True, nogil=True)
def _cover(part_stack, part_share, covered, after, stacks, shares):  # type: ignore[no-untyped-def]
    """Split every part of a pixel into what stays bare and what is covered; tells how many there are."""
    whole = covered >= _WHOLE
    count = 0
    for part in range(_MOST_PARTS):
        if part_share[part] <= 0.0:
            continue
        over = part_share[part] if whole else part_share[part] * covered
        bare = part_share[part] - over
        for which in range(2):
            size = bare if which == 0 else over
            if size <= 0.0:
                continue
            what = part_stack[part] if which == 0 else after[part_stack[part]]
            place = count
            for earlier in range(count):
                if stacks[earlier] == what:
                    place = earlier
            if place == count:
                stacks[place], shares[place] = what, 0.0
                count += 1
            shares[place] += size
    return count


@njit(cache=True, nogil=True)
def _at_most(stacks, shares, count, linear, first):  # type: ignore[no-untyped-def]
    """Give the least parts to those nearest in colour until there are few enough; tells how many are left."""
    while count > _MOST_PARTS:
        least = 0
        for part in range(1, count):
            if shares[part] < shares[least]:
                least = part
        nearest, nearest_apart = -1, np.inf
        for part in range(count):
            if part != least:
                apart = 0.0
                for band in range(3):
                    apart += (linear[first[stacks[part]], band] - linear[first[stacks[least]], band]) ** 2
                if apart < nearest_apart:
                    nearest, nearest_apart = part, apart
        shares[nearest] += shares[least]
        count -= 1
        stacks[least], shares[least] = stacks[count], shares[count]
    return count

"""Impressions for shapes whose colour runs: which inks, and how each is brushed out on its block.

Three ways are open. One ink that thins to nothing, where the run ends at the paper's colour. Bokashi over a
flat: the lighter end is printed flat, and over it an ink that thins from the darker end to nothing. Two inks
on one block, futa-iro, of which each thins towards the other. The film's share is found step by step along
the run, by the layer model, so that the printed colour comes nearest to the one wanted.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    ink_for_colour,
    lab_to_hex,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.colour.layers import absorption_for
from blockwright.colour.matched import TRANSPARENT_SCATTERING
from blockwright.colour.smooth import smooth_filter, smooth_reflectance_of_linear
from blockwright.colour.srgb import hex_to_srgb, linear_to_xyz, srgb_to_linear
from blockwright.geometry.running import film_share, lab_along, places_inside, run_lab
from blockwright.model.axis import Axis
from blockwright.model.design import Design, Run
from blockwright.model.separation import Bokashi, Gradation, Ink
from blockwright.model.units import Lab
from blockwright.separation.plan import Coloured, Planned

STEPS = 17
"""Steps of a ramp; between them it is straight."""

GOOD_DELTA_E00 = 3.0
"""A run that is met this well everywhere (CIEDE2000) needs no more inks [CP]."""

WORTH_DELTA_E00 = 3.0
"""Two inks on one block are hard to hold from sheet to sheet: they must be better than bokashi over a flat by
this much at the worst place [CP]."""

NARROW_SHARE = 0.2
"""A straight band at the image's edge that takes less than this part of the image is an ichimonji [CP]."""

_AT_EDGE_SHARE = 0.04
"""Full colour begins at the image's edge when it is this near to it, as a part of the image."""

_UPRIGHT = 0.94
"""The cosine of the angle, 20 degrees, up to which a run goes up or down [CP]."""

_SHARES = 129
"""Films that are tried for each step."""

_PAIRS = 33
"""Films of either ink that are tried, when two are laid together."""

_PLACES = 60
"""Places in a shape at which the print is compared with the design."""

OVER_A_FLAT = ("flat", "bokashi")
TWO_INKS = ("darker ink", "lighter ink")
"""What is added to a colour's name where two impressions print it."""


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A run from full colour on: the axis, and the colours (steps, 3) along it."""

    axis: Axis
    lab: NDArray[np.float64]

    @property
    def full_hex(self) -> str:
        return lab_to_hex(_as_lab(self.lab[0]))

    @property
    def end_hex(self) -> str:
        return lab_to_hex(_as_lab(self.lab[-1]))


@dataclass(frozen=True, slots=True)
class _Film:
    """An ink and its share of the full film at every step; ``flat`` lies everywhere as thick."""

    ink: Ink
    passes: int
    ramp: NDArray[np.float64]
    flat: bool
    word: str
    turned: bool = False


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to print a run, the lowest film first, and the worst that it misses by."""

    films: tuple[_Film, ...]
    worst_delta_e00: float


Passes = Callable[[str, int], int]
"""How often an impression, by its name, of a palette colour is printed."""


def _as_lab(values: NDArray[np.float64]) -> Lab:
    lightness, a, b = values.tolist()
    return (lightness, a, b)


def full_colour(run: Run, paper_hex: str) -> Lab:
    """The end of a run that is farther from the paper: full colour."""
    paper = hex_to_lab(paper_hex)
    return max((run.lab[0], run.lab[-1]), key=lambda lab: float(delta_e00(lab, paper)))


def _wanted(run: Run, paper_hex: str) -> _Wanted:
    along = lab_along(run, np.linspace(0.0, 1.0, STEPS))
    if full_colour(run, paper_hex) == run.lab[0]:
        return _Wanted(run.axis, along)
    return _Wanted(run.axis.turned(), along[::-1])


def _ink_over(srgb_hex: str, ground: NDArray[np.float64], passes: int, name: str) -> Ink:
    """A transparent ink that gives a colour over a ground that is print already, as near as it can."""
    linear = srgb_to_linear(hex_to_srgb(srgb_hex))
    through = smooth_filter(linear_to_xyz(linear), ground)
    wanted = smooth_reflectance_of_linear(linear) if through is None else through * ground
    k = absorption_for(wanted, ground, thickness=float(passes), scattering=TRANSPARENT_SCATTERING)
    return Ink(name, tuple(k.tolist()), (TRANSPARENT_SCATTERING,) * len(ground))


def _thinned(
    ink: Ink, passes: int, shares: NDArray[np.float64], ground: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The reflectance of an ink over a ground in films of so much of the full one."""
    return layer_reflectance(ink.k, ink.s, passes * shares[..., None], ground)


def _best_shares(
    ink: Ink, passes: int, ground: NDArray[np.float64], wanted: NDArray[np.float64]
) -> tuple[NDArray[np.float64], float]:
    """The film's share at every step that comes nearest, full first and never rising; the worst miss."""
    shares = np.linspace(0.0, 1.0, _SHARES)
    off = delta_e00(reflectance_to_lab(_thinned(ink, passes, shares, ground))[None], wanted[:, None])
    coarse = shares[np.argmin(off, axis=1)]
    finer = np.clip(coarse[:, None] + np.linspace(-1.0, 1.0, 33) / (_SHARES - 1), 0.0, 1.0)
    off = delta_e00(reflectance_to_lab(_thinned(ink, passes, finer, ground)), wanted[:, None])
    best = np.take_along_axis(finer, np.argmin(off, axis=1)[:, None], axis=1)[:, 0]
    best[0] = 1.0
    best = np.minimum.accumulate(best)
    miss = delta_e00(reflectance_to_lab(_thinned(ink, passes, best, ground)), wanted)
    return best, float(miss.max())


def _one_ink(name: str, wanted: _Wanted, paper_hex: str, passes: int) -> _Way:
    k, s = ink_for_colour(wanted.full_hex, paper_hex, passes=passes)
    ink = Ink(name, k, s)
    ramp, worst = _best_shares(ink, passes, colour_reflectance(paper_hex), wanted.lab)
    return _Way((_Film(ink, passes, ramp, False, ""),), worst)


def _over_a_flat(name: str, wanted: _Wanted, paper_hex: str, passes: tuple[int, int]) -> _Way:
    flat_word, bokashi_word = OVER_A_FLAT
    k, s = ink_for_colour(wanted.end_hex, paper_hex, passes=passes[0])
    flat = Ink(f"{name}, {flat_word}", k, s)
    ground = layer_reflectance(k, s, float(passes[0]), colour_reflectance(paper_hex))
    ink = _ink_over(wanted.full_hex, ground, passes[1], f"{name}, {bokashi_word}")
    ramp, worst = _best_shares(ink, passes[1], ground, wanted.lab)
    films = (
        _Film(flat, passes[0], np.ones(STEPS), True, flat_word),
        _Film(ink, passes[1], ramp, False, bokashi_word),
    )
    return _Way(films, worst)


def _two_inks(name: str, wanted: _Wanted, paper_hex: str, passes: tuple[int, int]) -> _Way:
    """Each ink thins towards the other; where they meet both lie thin."""
    paper = colour_reflectance(paper_hex)
    inks = [
        Ink(f"{name}, {word}", *ink_for_colour(colour, paper_hex, passes=times))
        for word, colour, times in zip(TWO_INKS, (wanted.full_hex, wanted.end_hex), passes, strict=True)
    ]
    step, low, high = 1.0 / (_PAIRS - 1), np.zeros((STEPS, 2)), np.ones((STEPS, 2))
    best = np.empty((STEPS, 2))
    for _ in range(3):
        tried = low[:, None] + np.linspace(0.0, 1.0, _PAIRS)[None, :, None] * (high - low)[:, None]
        lower = _thinned(inks[1], passes[1], tried[:, :, 1], paper)
        seen = _thinned(inks[0], passes[0], tried[:, :, None, 0], lower[:, None])
        off = delta_e00(reflectance_to_lab(seen), wanted.lab[:, None, None])
        dark, light = np.divmod(off.reshape(STEPS, -1).argmin(axis=1), _PAIRS)
        rows = np.arange(STEPS)
        best = np.stack([tried[rows, dark, 0], tried[rows, light, 1]], axis=1)
        low, high = np.clip(best - 2 * step, 0.0, 1.0), np.clip(best + 2 * step, 0.0, 1.0)
        step *= 4.0 / (_PAIRS - 1)
    best[0, 0] = best[-1, 1] = 1.0
    dark_ramp = np.minimum.accumulate(best[:, 0])
    light_ramp = np.maximum.accumulate(best[:, 1])
    lower = _thinned(inks[1], passes[1], light_ramp, paper)
    worst = delta_e00(reflectance_to_lab(_thinned(inks[0], passes[0], dark_ramp, lower)), wanted.lab).max()
    films = (
        _Film(inks[1], passes[1], light_ramp[::-1], False, TWO_INKS[1], turned=True),
        _Film(inks[0], passes[0], dark_ramp, False, TWO_INKS[0]),
    )
    return _Way(films, float(worst))


def ends_as_paper(run: Run, paper_hex: str, within: float) -> bool:
    """Whether a run ends as bare paper, within so much (CIEDE2000)."""
    paper = hex_to_lab(paper_hex)
    return min(float(delta_e00(lab, paper)) for lab in (run.lab[0], run.lab[-1])) <= within


def _way(name: str, run: Run, design: Design, colour: int, passes: Passes, within: float) -> _Way:
    """The way to print a run: the printmaker's, or the best.

    See the module's head for the three, and GOOD and WORTH for the choice. What ends at the paper leaves
    nothing for a second ink.
    """
    wanted = _wanted(run, design.paper_hex)
    one = _one_ink(name, wanted, design.paper_hex, passes(name, colour))
    good = run.printed is None and one.worst_delta_e00 <= GOOD_DELTA_E00
    if run.printed == "one ink" or good or ends_as_paper(run, design.paper_hex, within):
        return one

    def times(words: tuple[str, str]) -> tuple[int, int]:
        first, second = (passes(f"{name}, {word}", colour) for word in words)
        return first, second

    if run.printed == "futa-iro":
        return _two_inks(name, wanted, design.paper_hex, times(TWO_INKS))
    flat = _over_a_flat(name, wanted, design.paper_hex, times(OVER_A_FLAT))
    if run.printed == "over a flat" or flat.worst_delta_e00 <= GOOD_DELTA_E00:
        return flat
    two = _two_inks(name, wanted, design.paper_hex, times(TWO_INKS))
    return two if two.worst_delta_e00 < flat.worst_delta_e00 - WORTH_DELTA_E00 else flat


def bokashi_kind(axis: Axis, *, width_mm: float, height_mm: float) -> Bokashi:
    """The trade's name for a gradation of one ink that is full at the axis's start.

    >>> bokashi_kind(Axis((50.0, 0.0), (50.0, 60.0)), width_mm=100.0, height_mm=80.0)
    'fukisage'
    >>> bokashi_kind(Axis((50.0, 0.0), (50.0, 9.0)), width_mm=100.0, height_mm=80.0)
    'ichimonji'
    """
    if axis.edge or axis.length_mm <= 0.0:
        return "atenashi"
    x, y = ((b - a) / axis.length_mm for a, b in zip(axis.start, axis.end, strict=True))
    for along, place, image in ((y, axis.start[1], height_mm), (x, axis.start[0], width_mm)):
        from_edge = place if along > 0.0 else image - place
        narrow = axis.length_mm <= NARROW_SHARE * image
        if abs(along) >= _UPRIGHT and narrow and from_edge <= _AT_EDGE_SHARE * image:
            return "ichimonji"
    if abs(y) < _UPRIGHT:
        return "atenashi"
    return "fukisage" if y > 0.0 else "fukiage"


def plan_gradation(
    work: Coloured, colour: int, run: Run, *, passes: Passes, trap_mm: float, within: float
) -> tuple[Planned, ...]:
    """The impressions that print a palette colour that runs, the first printed first.

    ``passes`` tells how often an impression is printed; ``within`` is how near to the paper (CIEDE2000) an
    end counts as bare paper.
    """
    design, name = work.design, work.design.palette[colour].name
    wanted = _wanted(run, design.paper_hex)
    way = _way(name, run, design, colour, passes, within)
    size = {"width_mm": design.width_mm, "height_mm": design.height_mm}
    brushed = [film for film in way.films if not film.flat]
    paper = colour_reflectance(design.paper_hex)
    planned = []
    for film in way.films:
        axis = wanted.axis.turned() if film.turned else wanted.axis
        kind: Bokashi = "futa-iro" if len(brushed) > 1 else bokashi_kind(axis, **size)
        ramp = tuple(round(float(share), 4) for share in film.ramp)
        seen = reflectance_to_lab(layer_reflectance(film.ink.k, film.ink.s, float(film.passes), paper))
        planned.append(
            Planned(
                name=f"{name}, {film.word}" if film.word else name,
                kind="colour",
                ink=film.ink,
                passes=film.passes,
                shapes=tuple(work.shapes_of(colour).tolist()),
                trap_mm=trap_mm,
                srgb_hex=lab_to_hex(_as_lab(seen)),
                lab=_as_lab(seen),
                gradation=None if film.flat else Gradation(kind, axis, ramp, way.worst_delta_e00),
            )
        )
    return tuple(planned)


def in_order(
    work: Coloured,
    order: Sequence[int],
    flat: Sequence[Planned],
    graded: Mapping[int, Sequence[Planned]],
    *,
    decided: Sequence[str],
) -> tuple[Planned, ...]:
    """All impressions in printing order: ``flat`` ones as they come, those of runs in their colours' places.

    The flat beneath a gradation goes by its own lightness, so that the sheet can dry before the gradation
    comes over it, unless the order was ``decided`` by hand.
    """
    shapes = {c: work.shapes_of(c)[0] for c in order}
    planned: list[Planned] = []
    rest = list(flat)
    for c in order:
        if c in graded:
            planned += graded[c]
        else:
            own = [each for each in rest if shapes[c] in each.shapes]
            planned += own
            rest = [each for each in rest if each not in own]
    planned += rest
    if decided:
        return tuple(planned)
    for films in graded.values():
        if len(films) == 2 and films[0].gradation is None:
            planned.remove(films[0])
            later = next(
                k for k, each in enumerate(planned) if each is films[1] or each.lab[0] < films[0].lab[0]
            )
            planned.insert(later, films[0])
    return tuple(planned)


def run_differences(
    work: Coloured, planned: Sequence[Planned], covers: NDArray[np.bool_], shape: int
) -> NDArray[np.float64]:
    """CIEDE2000 between design and print at places spread evenly over a shape whose colour runs."""
    run = work.design.shapes[shape].run
    if run is None:
        raise ValueError("the shape is flat")
    places = places_inside(work.regions[shape], about=_PLACES)
    seen = np.tile(colour_reflectance(work.design.paper_hex), (len(places), 1))
    for row, each in zip(covers, planned, strict=True):
        if row[shape]:
            share = np.ones(len(places)) if each.gradation is None else film_share(each.gradation, places)
            seen = _thinned(each.ink, each.passes, share, seen)
    return delta_e00(reflectance_to_lab(seen), run_lab(run, places))

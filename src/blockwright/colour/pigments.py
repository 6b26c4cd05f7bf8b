"""Pigments of the literature that come with the program: measured oil paints, and watercolours chosen by eye.

Measured: 84 historical oil paints and their mixtures, drawn over white and over black (Geldof et al.,
*Heritage Science* 6:17, 2018, CC0). Chosen by eye: K and S of twelve watercolours in three bands (Curtis et
al., SIGGRAPH 1997, figure 5). Both tell hue and transparency, not the strength of the paint on the table;
``data/pigments/SOURCES.md`` says more.
"""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.bands import on_bands
from blockwright.colour.fitting import Patch, fit_inks
from blockwright.colour.inks import to_optics
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.optics import InkOptics, known_inks
from blockwright.colour.smooth import smooth_reflectance_of_linear
from blockwright.model.errors import InkError
from blockwright.model.inks import Pigment
from blockwright.model.units import Rgb

LITERATURE_SPREAD = 0.4
"""Standard deviation of log K and log S of a literature ink: makes and batches of one pigment differ in
strength by half as much again or a third less [CP]."""

_CURTIS = "Curtis et al., SIGGRAPH 1997, figure 5: a watercolour, chosen by eye"
_GELDOF = "Geldof et al., Heritage Science 6:17, 2018: an oil paint, measured over white and over black"

_PERCENT = 100.0
_EXPANSION_NOISE = 0.0003
"""How exactly K and S of 36 bands are to give the colours of the three, as a reflectance."""


@dataclass(frozen=True, slots=True)
class PigmentName:
    """A pigment's plain name and Colour Index generic name, such as PB29; None where it has no single one."""

    name: str
    colour_index: str | None


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPaint:
    """One drawn-down paint. ``parts`` are pigments with their percent by weight, of those above 0.

    Reflectances have shape (36,), 0 to 1, read only. Measured from 400 to 700 nm: the bands ``held_nm``
    repeat the end values.
    """

    code: str
    parts: tuple[tuple[PigmentName, float], ...]
    over_white: NDArray[np.float64]
    over_black: NDArray[np.float64]
    white: NDArray[np.float64]
    black: NDArray[np.float64]
    held_nm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Watercolour:
    """A watercolour: absorption ``k`` and scattering ``s`` of one film in three bands (R, G, B)."""

    pigment: PigmentName
    k: Rgb
    s: Rgb


@lru_cache(maxsize=1)
def measured_paints() -> tuple[MeasuredPaint, ...]:
    """The 84 measured oil paints and mixtures, in the order of their codes.

    Raises InkError when the files of the program are damaged.

    >>> [paint.code for paint in measured_paints()][:3], len(measured_paints())
    (['01A', '01B', '01C'], 84)
    >>> [(pigment.name, percent) for pigment, percent in measured_paints()[1].parts]
    [('eosin 1 with wax', 10.0), ('zinc white', 90.0)]
    """
    head, *rows = (line.split("\t") for line in _lines("revigo-aggregated-palette-spectral-data.txt"))
    waves = np.array(head[1:], dtype=np.float64)
    percent = {name: np.array(values, dtype=np.float64) for name, *values in rows}
    made_of = dict(_mixtures())
    codes = sorted(name.removesuffix("_ow") for name in percent if name.endswith("_ow"))
    return tuple(_paint(code, made_of[code], waves, percent) for code in codes)


@lru_cache(maxsize=1)
def watercolours() -> tuple[Watercolour, ...]:
    """The twelve watercolours, in three bands, as published.

    >>> rose = watercolours()[0]
    >>> rose.pigment, rose.k
    (PigmentName(name='quinacridone rose', colour_index='PV19'), (0.22, 1.47, 0.57))
    """
    rows = csv.DictReader(line for line in _lines("curtis-1997.csv") if not line.startswith("#"))
    known = _pigments()
    return tuple(
        Watercolour(
            known[row["pigment"]],
            (float(row["K_r"]), float(row["K_g"]), float(row["K_b"])),
            (float(row["S_r"]), float(row["S_g"]), float(row["S_b"])),
        )
        for row in rows
    )


def watercolour_optics(watercolour: Watercolour) -> InkOptics:
    """A watercolour in 36 bands: what gives its colours over white and over black, calmly.

    The two colours of a film are taken as linear sRGB, a smooth reflectance is found for each, and K and S
    are fitted to the two. The uncertainty is LITERATURE_SPREAD in strength, for all bands together.

    >>> watercolour_optics(watercolours()[0]).k.shape
    (1, 36)
    """
    grounds = (np.ones(36), np.zeros(36))
    seen = smooth_reflectance_of_linear(
        [layer_reflectance(watercolour.k, watercolour.s, 1.0, ground[0]) for ground in grounds]
    )
    patches = [Patch(film, ground) for film, ground in zip(seen, grounds, strict=True)]
    name = watercolour.pigment.name
    fit = fit_inks([name], patches, noise=_EXPANSION_NOISE)
    return known_inks([name], fit.inks.k, fit.inks.s, log_spread=LITERATURE_SPREAD)


@lru_cache(maxsize=1)
def shipped_pigments() -> tuple[Pigment, ...]:
    """The pigments that come with the program, as inks: watercolours first, then oil paints.

    One amount of an oil paint is the film as it was drawn down, which is thick: a printed film has little of
    it. K and S are those of ``data/pigments/optics.csv``, computed by ``vendor/pigments.py``; the uncertainty
    is LITERATURE_SPREAD in strength. Raises InkError when the files of the program are damaged.

    >>> rose = shipped_pigments()[0]
    >>> rose.name, rose.colour_index, rose.origin, len(shipped_pigments())
    ('quinacridone rose', 'PV19', 'literature', 27)
    """
    return tuple(pigment for pigment, _ in _shipped())


@lru_cache(maxsize=1)
def starter_pigments() -> tuple[Pigment, ...]:
    """Those of the shipped pigments that a printmaker would have on the shelf.

    A rose, an orange, a yellow, two earths, three greens, three blues, a black and a white: none with lead,
    arsenic, mercury, chromate or cadmium.

    >>> [pigment.name for pigment in starter_pigments()][:3]
    ['quinacridone rose', 'Indian red', "Hooker's green"]
    """
    return tuple(pigment for pigment, starter in _shipped() if starter)


@lru_cache(maxsize=1)
def _shipped() -> tuple[tuple[Pigment, bool], ...]:
    """Every shipped pigment, and whether it belongs to the starter set."""
    facts = {row["pigment"]: row for row in csv.DictReader(_lines("facts.csv"))}
    generic = {pigment.name: pigment.colour_index for pigment in _pigments().values()}
    by_eye = {watercolour.pigment.name for watercolour in watercolours()}
    lines = list(csv.reader(_lines("optics.csv")))[1:]
    found = []
    try:
        for (name, _, *k), (_, _, *s) in zip(lines[::2], lines[1::2], strict=True):
            fact = facts[name]
            inks = known_inks(
                [name], [[float(v) for v in k]], [[float(v) for v in s]], log_spread=LITERATURE_SPREAD
            )
            pigment = Pigment(
                name,
                generic[name],
                to_optics(inks),
                "literature",
                _CURTIS if name in by_eye else _GELDOF,
                fact["lightfastness"] or None,
                fact["hazard"] or None,
                float(fact["density_g_per_ml"]),
            )
            found.append((pigment, fact["starter"] == "yes"))
    except (KeyError, ValueError):
        raise InkError("The pigment data of the program are damaged; install it anew.") from None
    return tuple(found)


def _paint(
    code: str,
    parts: tuple[tuple[PigmentName, float], ...],
    waves: NDArray[np.float64],
    percent: dict[str, NDArray[np.float64]],
) -> MeasuredPaint:
    try:
        four = np.stack([percent[f"{code}_{kind}"] for kind in ("ow", "ob", "w", "b")]) / _PERCENT
    except KeyError as error:
        raise InkError(f"The pigment data of the program lack {error.args[0]}; install it anew.") from None
    on = on_bands(waves, four, hold_ends=True, name=f"the paint {code}")
    on.reflectance.flags.writeable = False
    over_white, over_black, white, black = on.reflectance
    return MeasuredPaint(code, parts, over_white, over_black, white, black, on.held_nm)


def _mixtures() -> Iterator[tuple[str, tuple[tuple[PigmentName, float], ...]]]:
    """Each mixture's code and what it is made of: ``04B<tab>Cochineal-ZincWhite|9.9-90.1``."""
    known = _pigments()
    for line in _lines("revigo-mixture-specifications.txt"):
        code, made_of = line.split("\t")
        names, shares = (side.split("-") for side in made_of.split("|"))
        yield (
            code,
            tuple(
                (known[name], float(share))
                for name, share in zip(names, shares, strict=True)
                if float(share) > 0.0
            ),
        )


@lru_cache(maxsize=1)
def _pigments() -> dict[str, PigmentName]:
    rows = csv.DictReader(_lines("colour-index.csv"))
    return {row["pigment"]: PigmentName(row["name"], row["colour_index"] or None) for row in rows}


def _lines(name: str) -> list[str]:
    file = resources.files("blockwright").joinpath("data", "pigments", name)
    return [line for line in file.read_text("utf-8").splitlines() if line.strip()]

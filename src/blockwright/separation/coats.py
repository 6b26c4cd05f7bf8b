"""Coats: inks that overprints are searched with, each as the whole film that its passes lay down.

A coat is one impression without its shapes: a mixture of pigments in so many passes, or a mixed ink of the
shelf. While plans are searched the shares of a mixture move; what is taken from the shelf stays as it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import layer_reflectance, reflectance_to_lab
from blockwright.colour.bands import BANDS_NM
from blockwright.colour.films import film_thickness
from blockwright.colour.mixtures import film_parts
from blockwright.colour.passes import MOST_PASSES
from blockwright.model.inks import MixedInk, Optics, Part, Pigment

Values = NDArray[np.float64]

MOST_IN_A_COAT = 3
"""Pigments in one mixture, at most; more turn muddy and are hard to repeat [CP]."""

_IDEAL_K = 8.0
"""Absorption of a film of an undiluted ideal pigment where it is strongest: a fifth of it is dark."""

_IDEAL_S = 0.15
"""Its scattering: that of a transparent watercolour, a few hundredths, at the shares that are printed."""

_FLANK_NM = 14.0
"""How softly one ideal pigment gives way to the next along the spectrum, nm."""

_DIVIDES_NM = (495.0, 585.0)
"""Where the ideal pigments meet: they take away blue, green and red light, as the primaries of print do."""


@dataclass(frozen=True, slots=True, eq=False)
class Coat:
    """One film: ``parts`` are places among the pigments with a share each, in ``passes``.

    ``k`` and ``s``, (36,) each, are of the whole film, all passes together. ``taken`` is the mixed ink of the
    shelf that it is, with no parts then.
    """

    parts: tuple[int, ...]
    shares: tuple[float, ...]
    passes: int
    k: Values
    s: Values
    taken: MixedInk | None = None

    @property
    def known_as(self) -> tuple[object, ...]:
        """What tells a coat from others."""
        if self.taken is not None:
            return ("shelf", self.taken.number, self.passes)
        return ("mix", self.parts, self.shares, self.passes)


@dataclass(frozen=True)
class Paintbox:
    """What coats are mixed from: pigments, and the part of the film that they may fill together.

    ``ideal`` says that the pigments stand for an ink that is mixed to match, and not for paints. ``usual``
    are the places of those that are mixed from where nothing else is decided, all of them where it is empty.
    """

    pigments: tuple[Pigment, ...]
    most_share: float
    most_pigments: int = MOST_IN_A_COAT
    ideal: bool = False
    usual: tuple[int, ...] = ()

    @cached_property
    def _films(self) -> tuple[tuple[Values, Values, Values], ...]:
        return tuple(film_parts(self.pigments, passes) for passes in range(1, MOST_PASSES + 1))

    def film(self, passes: int) -> tuple[Values, Values, Values]:
        """K and S, (pigments, 36), of so many passes of each pigment alone, and their thickness."""
        return self._films[passes - 1]

    def coat(self, parts: Sequence[int], shares: Sequence[float], passes: int) -> Coat:
        """A mixture, its parts in the order of the pigments."""
        order = np.argsort(np.array(parts), kind="stable")
        chosen = tuple(int(parts[i]) for i in order)
        amounts = np.array([float(shares[i]) for i in order])
        k, s, _ = self.film(passes)
        places = list(chosen)
        return Coat(chosen, tuple(amounts.tolist()), passes, amounts @ k[places], amounts @ s[places])

    def mixed_anew(self, coat: Coat, shares: Sequence[float]) -> Coat:
        """The same coat with other shares."""
        return coat if coat.taken is not None else self.coat(coat.parts, shares, coat.passes)

    def in_passes(self, coat: Coat, passes: int) -> Coat:
        """The same film laid down in other passes: each pigment as much in all of them as before."""
        if coat.taken is not None or passes == coat.passes:
            return coat
        before, after = self.film(coat.passes)[2], self.film(passes)[2]
        shares = [
            share * before[part] / after[part] for part, share in zip(coat.parts, coat.shares, strict=True)
        ]
        return replace(coat, shares=tuple(shares), passes=passes)

    def fewest_passes(self, coat: Coat) -> Coat:
        """The same film in the fewest passes that can hold it."""
        for passes in range(1, coat.passes):
            fewer = self.in_passes(coat, passes)
            if sum(fewer.shares) <= self.most_share:
                return fewer
        return coat

    def recipe(self, coat: Coat) -> tuple[Part, ...]:
        """The parts of a mixture by name, the largest first."""
        named = [
            Part(self.pigments[part].name, share) for part, share in zip(coat.parts, coat.shares, strict=True)
        ]
        return tuple(sorted(named, key=lambda part: (-part.share, part.pigment)))


def ideal_pigments() -> tuple[Pigment, ...]:
    """Three pigments that take away blue, green and red light and let the rest through, with soft flanks.

    They stand for inks that are mixed to match: of all their mixtures none absorbs less than nothing, and
    equal amounts are a neutral grey.

    >>> k = np.array([each.optics.k for each in ideal_pigments()])
    >>> bool(np.allclose(k.sum(axis=0), k.sum(axis=0)[0]))
    True
    """
    wave = np.array(BANDS_NM, dtype=np.float64)
    above = [1.0 / (1.0 + np.exp(-(wave - divide) / _FLANK_NM)) for divide in _DIVIDES_NM]
    shapes = (1.0 - above[0], above[0] - above[1], above[1])
    names = ("ideal yellow", "ideal red", "ideal blue")
    scatter = (_IDEAL_S,) * len(wave)
    return tuple(
        Pigment(
            name=name,
            colour_index=None,
            optics=Optics(tuple((_IDEAL_K * shape).tolist()), scatter),
            origin="matched",
            source="stands for an ink that is mixed to match",
        )
        for name, shape in zip(names, shapes, strict=True)
    )


def shelf_coats(inks: Sequence[MixedInk], passes: Sequence[int]) -> list[Coat]:
    """The mixed inks of the shelf, each in each number of passes, as they are."""
    coats = []
    for ink in inks:
        for count in passes:
            thick = film_thickness(count, transfer=ink.transfer)
            k, s = (np.array(each) * thick for each in (ink.optics.k, ink.optics.s))
            coats.append(Coat((), (), count, k, s, ink))
    return coats


def lightness(coats: Sequence[Coat], paper: Values) -> Values:
    """L* of each coat alone on the paper."""
    if not coats:
        return np.empty(0)
    seen = layer_reflectance(np.array([c.k for c in coats]), np.array([c.s for c in coats]), 1.0, paper)
    light: Values = reflectance_to_lab(seen)[:, 0]
    return light


def light_to_dark(coats: Sequence[Coat], paper: Values) -> list[Coat]:
    """Coats in the order in which they are printed: the lightest on the paper first."""
    light = lightness(coats, paper)
    order = sorted(range(len(coats)), key=lambda i: (-round(float(light[i]), 9), str(coats[i].known_as)))
    return [coats[i] for i in order]

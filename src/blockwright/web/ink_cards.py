"""What the cards of inks say: how an ink looks in one pass to four, its recipe, its weights."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from blockwright.web import words


@dataclass(frozen=True, slots=True)
class PassShown:
    """One swatch of a card: so many passes, how they look, how far off that may be, and whether planned."""

    times: int
    said: str
    hex: str
    off: str
    planned: bool


@dataclass(frozen=True, slots=True)
class MeasureShown:
    """One line of a recipe: what goes in, its part of the film, and how much of it."""

    name: str
    share: str
    mass: str
    volume: str


def delta(number: float) -> str:
    """A colour difference for a sentence.

    >>> delta(1.26), delta(13.69)
    ('1.3', '14')
    """
    return words.figure(number, 1 if number < 10 else 0)


def grams(mass_g: float) -> str:
    """A weight for a sentence.

    >>> grams(5.6), grams(118.24), grams(0.0)
    ('5.6\\xa0g', '118.2\\xa0g', '0\\xa0g')
    """
    return f"{words.figure(mass_g, 3 if mass_g < 1 else 2 if mass_g < 10 else 1)}\u00a0g"


def millilitres(volume_ml: float) -> str:
    """A volume for a sentence, no finer than a syringe tells.

    >>> millilitres(4.4753), millilitres(25.18)
    ('4.5\\xa0ml', '25.2\\xa0ml')
    """
    return f"{words.figure(volume_ml, 2 if volume_ml < 1 else 1)}\u00a0ml"


def times_said(times: int) -> str:
    """How often, in words.

    >>> times_said(2), times_said(3)
    ('twice', '3\\xa0times')
    """
    return words.TEXTS[f"times_{times}"].replace(" ", "\u00a0")


def in_passes(times: int) -> str:
    """In how many passes, in words.

    >>> in_passes(1), in_passes(3)
    ('one pass', 'three passes')
    """
    return words.TEXTS[f"in_passes_{times}"]


def shown_passes(hexes: Sequence[str], off: Sequence[float] = (), *, planned: int = 0) -> list[PassShown]:
    """The swatches of a card, for one pass and on."""
    said = [words.fmt("plus_minus", delta=delta(each)) for each in off]
    return [
        PassShown(k + 1, words.TEXTS[f"swatch_{k + 1}"], hex, said[k] if said else "", k + 1 == planned)
        for k, hex in enumerate(hexes)
    ]


def percent(share: float) -> str:
    """A part of the whole for a sentence.

    >>> percent(0.2693), percent(0.004)
    ('27\\xa0%', '0.4\\xa0%')
    """
    return f"{words.figure(100 * share, 0 if share >= 0.1 else 1)}\u00a0%"


def recipe_said(components: Sequence[tuple[str, float]]) -> str:
    """A recipe as a sentence lists it: the parts of the film.

    >>> recipe_said([("Indian red", 0.25), ("rice paste", 0.75)])
    '25\\xa0% Indian red and 75\\xa0% rice paste'
    """
    return words.listed([f"{percent(share)} {name}" for name, share in components], most=len(components))


def components_of(recipe: Mapping[str, Any]) -> list[tuple[str, float]]:
    """Name and share of the film, 0 to 1, of each component of a told recipe."""
    return [(each["name"], each["parts"] / 100.0) for each in recipe["components"]]


def measures_of(ink: Mapping[str, Any]) -> list[MeasureShown]:
    """The lines of a recipe of a told ink; without a recipe there are none."""
    shares = dict(components_of(ink["recipe"])) if ink["recipe"] else {}
    return [
        MeasureShown(
            words.fmt("recipe_thinned", name=each["name"], parts=each["thinned"])
            if each["thinned"] > 1
            else each["name"],
            percent(shares[each["name"]]) if each["name"] in shares else "",
            grams(each["mass_g"]),
            millilitres(each["volume_ml"]),
        )
        for each in (ink["batch"] or {"measures": ()})["measures"]
    ]

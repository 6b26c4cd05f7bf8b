"""Plain names for colours, as a printmaker would write them on a bowl of ink.

The scheme is our own: common English words for lightness, chroma and hue, chosen by CIELAB (D65) with hue
angles read off the colours that the words usually mean [CP]. It names what is seen, never a pigment.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from blockwright.model.units import Lab

_NEUTRAL_CHROMA = 4.0
"""Below this chroma a colour is called white, grey or black without a hue."""

_GREYED_CHROMA = 12.0
"""Below this chroma a colour is called a grey with a leaning."""

_DULL_CHROMA = 24.0
"""Below this chroma a colour of middle lightness is called dull."""

_BRIGHT_CHROMA = 70.0
"""From this chroma on a colour of middle lightness or lighter is called bright."""

_CHANGES_L = 2.0
"""Two colours of one name whose L* differs by less than this are counted rather than compared."""

_ORDINALS = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
)

_COMPARATIVES = {"pale": "paler", "light": "lighter", "deep": "deeper", "dark": "darker"}

_GREY_LEANINGS = (
    (30.0, "rose"),
    (115.0, "warm"),
    (205.0, "green"),
    (305.0, "blue"),
    (345.0, "violet"),
    (360.0, "rose"),
)
"""Upper hue angle (degrees) of each leaning of a grey."""

_STRONG_CHROMA = 42.0
"""From this chroma on the strong words of the table below are used."""

_HUES: tuple[tuple[float, str, str, str, str, str], ...] = (
    (16.0, "wine red", "wine red", "rose", "pink", "pink"),
    (31.0, "red brown", "crimson", "crimson", "pink", "salmon pink"),
    (46.0, "red brown", "red", "red", "pink", "salmon pink"),
    (62.0, "brown", "brown", "orange", "peach", "orange"),
    (78.0, "brown", "brown", "ochre", "buff", "orange yellow"),
    (92.0, "olive brown", "olive brown", "yellow ochre", "ochre", "yellow"),
    (104.0, "olive", "olive", "olive", "straw yellow", "yellow"),
    (118.0, "olive green", "olive green", "yellow green", "straw yellow", "lemon yellow"),
    (133.0, "moss green", "moss green", "yellow green", "yellow green", "yellow green"),
    (166.0, "green", "green", "green", "green", "green"),
    (215.0, "sea green", "sea green", "sea green", "sea green", "turquoise"),
    (296.0, "blue", "blue", "blue", "blue", "blue"),
    (309.0, "violet blue", "blue", "violet blue", "lavender", "lavender"),
    (332.0, "violet", "violet", "violet", "lilac", "lilac"),
    (350.0, "plum", "purple", "purple", "mauve", "mauve"),
    (360.0, "wine red", "wine red", "rose", "pink", "pink"),
)
"""Upper hue angle (degrees); the words for dark soft, dark strong, middle, light soft, light strong."""

_DARK_BELOW_L = 45.0
_LIGHT_FROM_L = 72.0


def _grey_name(lightness: float) -> str:
    """Name a colour without hue."""
    steps = (14.0, 30.0, 45.0, 62.0, 78.0, 90.0, 96.5)
    names = ("black", "soft black", "dark grey", "grey", "light grey", "pale grey", "off white", "white")
    return names[bisect_right(steps, lightness)]


def _leaning_grey_name(lightness: float, hue: float) -> str:
    """Name a grey that leans towards a hue."""
    leaning = next(word for end, word in _GREY_LEANINGS if hue < end)
    if lightness >= 90.0:
        return {"warm": "cream white", "rose": "rose white"}.get(leaning, f"{leaning} white")
    if lightness < 22.0:
        return {"warm": "brown black", "rose": "brown black"}.get(leaning, f"{leaning} black")
    prefix = ("dark ", "", "light ", "pale ")[bisect_right((40.0, 62.0, 78.0), lightness)]
    return f"{prefix}{leaning} grey"


def _chromatic_name(lightness: float, chroma: float, hue: float) -> str:
    """Name a colour that is no grey."""
    _, dark_soft, dark_strong, middle, light_soft, light_strong = next(row for row in _HUES if hue < row[0])
    strong = chroma >= _STRONG_CHROMA
    if lightness < _DARK_BELOW_L:
        word = dark_strong if strong else dark_soft
        prefix = "very dark " if lightness < 20.0 else ("deep " if strong else "dark ")
        return word if lightness >= 37.0 else f"{prefix}{word}"
    light = lightness >= _LIGHT_FROM_L
    if chroma >= _BRIGHT_CHROMA:
        return f"bright {light_strong if light else middle}"
    if light:
        return light_strong if strong else f"pale {light_soft}"
    return f"dull {middle}" if chroma < _DULL_CHROMA else middle


def colour_name(lab: Lab) -> str:
    """A plain name for a CIELAB colour, two or three words.

    >>> colour_name((83.0, 3.0, 30.0)), colour_name((34.0, -3.0, -9.0)), colour_name((27.0, 14.0, 22.0))
    ('pale ochre', 'dark blue grey', 'dark brown')
    """
    lightness, a, b = (float(v) for v in lab)
    chroma = float(np.hypot(a, b))
    # A hair below 0 first becomes 360, so twice.
    hue = float(np.degrees(np.arctan2(b, a))) % 360.0 % 360.0
    if chroma < _NEUTRAL_CHROMA:
        return _grey_name(lightness)
    if chroma < _GREYED_CHROMA:
        return _leaning_grey_name(lightness, hue)
    return _chromatic_name(lightness, chroma, hue)


def _ordinal(number: int) -> str:
    if number <= len(_ORDINALS):
        return _ORDINALS[number - 1]
    ending = "th" if 10 <= number % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def _compared(name: str) -> tuple[str, str]:
    """Names for the lighter and the darker of two colours that would share a name."""
    if name.startswith("very dark "):
        return name, f"darkest {name.removeprefix('very dark ')}"
    first, _, rest = name.partition(" ")
    if first in _COMPARATIVES and rest:
        other = f"{_COMPARATIVES[first]} {rest}"
        return (other, name) if first in ("pale", "light") else (name, other)
    return f"lighter {name}", f"darker {name}"


def distinct_names(labs: Sequence[Lab]) -> tuple[str, ...]:
    """A name for every colour of a palette, no two alike, in the order given.

    Where two colours would share a name the lighter and the darker are told apart by a comparative; three or
    more, and two as light as each other, are counted from light to dark.

    >>> distinct_names([(30.0, 14.0, 22.0), (24.0, 14.0, 22.0), (50.0, 0.0, 0.0)])
    ('dark brown', 'darker brown', 'grey')
    """
    groups: defaultdict[str, list[int]] = defaultdict(list)
    for i, lab in enumerate(labs):
        groups[colour_name(lab)].append(i)
    names: dict[int, str] = {group[0]: name for name, group in groups.items() if len(group) == 1}
    taken = set(names.values())
    for name, group in groups.items():
        if len(group) == 1:
            continue
        ordered = sorted(group, key=lambda i: (-labs[i][0], labs[i][1], labs[i][2], i))
        choice: Sequence[str] = ()
        if len(group) == 2 and labs[ordered[0]][0] - labs[ordered[1]][0] >= _CHANGES_L:
            choice = _compared(name)
        if not choice or taken.intersection(choice):
            choice = [f"{_ordinal(n)} {name}" for n in range(1, len(group) + 1)]
        names.update(zip(ordered, choice, strict=True))
        taken.update(choice)
    return tuple(names[i] for i in range(len(labs)))

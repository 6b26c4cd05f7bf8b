"""Woods and how much they move: what a board's wood is reckoned as.

A coefficient is the part of its width by which wood grows for each point of moisture content, valid from 6
to 14 % (Wood Handbook, FPL-GTR-190, table 13-5). The table, with tags and sources, is
``data/woods/woods.csv``.
"""

import csv
import re
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

from blockwright.model.settings import BlocksTable, Stock

Tag = Literal["pub", "CP", "mem"]

_PLYWOOD = "plywood"
_PER_PERCENT = 100.0


@dataclass(frozen=True, slots=True)
class Wood:
    """A wood of the table: coefficients across the grain, ``radial`` and ``tangential``, and ``along`` it.

    ``also`` are other names that are reckoned as this wood.
    """

    name: str
    also: tuple[str, ...]
    radial: float
    tangential: float
    along: float
    tag: Tag
    source: str


@dataclass(frozen=True, slots=True)
class Coefficients:
    """How a board moves: part of its size for each point of moisture, ``across`` the grain and ``along`` it.

    ``reckoned_as`` is the wood of the table, or "" where the figure is the board's own (``own``) or, for a
    wood that is not known, the setting's.
    """

    across: float
    along: float
    reckoned_as: str
    own: bool = False


@cache
def known_woods() -> tuple[Wood, ...]:
    """The table of woods, in its own order.

    >>> next(wood.tangential for wood in known_woods() if wood.name == "black cherry")
    0.00248
    """
    text = (resources.files("blockwright") / "data" / "woods" / "woods.csv").read_text(encoding="utf-8")
    return tuple(
        Wood(
            name=row["wood"],
            also=tuple(each for each in row["also"].split(";") if each),
            radial=float(row["radial"]),
            tangential=float(row["tangential"]),
            along=float(row["along"]),
            tag=row["tag"],  # type: ignore[arg-type]
            source=row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def find_wood(name: str) -> Wood | None:
    """The wood of the table that a board's wood is reckoned as, or None.

    The longest name of the table that stands in it as whole words counts; but whatever is plywood moves as
    plywood, not as the wood of its plies.

    >>> [wood.name if (wood := find_wood(name)) else None for name in ("Cherry", "linden plywood", "pear")]
    ['black cherry', 'plywood', None]
    """
    words = _words(name)
    found = [
        (called, wood)
        for wood in known_woods()
        for called in (wood.name, *wood.also)
        if f" {_words(called)} " in f" {words} "
    ]
    plies = [wood for _, wood in found if wood.name == _PLYWOOD]
    if plies:
        return plies[0]
    return max(found, key=lambda each: len(each[0]))[1] if found else None


def _words(name: str) -> str:
    return " ".join(re.findall(r"\w+", name.casefold()))


def coefficients_of(stock: Stock, settings: BlocksTable) -> Coefficients:
    """How a kind of board moves: by its own figure, else by its wood and cut, else by the setting's figure.

    A flat-sawn board has the tangential direction across its width, a quarter-sawn one the radial.
    """
    wood = find_wood(stock.wood)
    if stock.moves_percent is not None:
        own = stock.moves_percent / _PER_PERCENT
        return Coefficients(own, own * wood.along / wood.tangential if wood else 0.0, "", own=True)
    if wood is None:
        return Coefficients(settings.unknown_wood_percent / _PER_PERCENT, 0.0, "")
    across = wood.tangential if stock.cut == "flat sawn" else wood.radial
    return Coefficients(across, wood.along, wood.name)

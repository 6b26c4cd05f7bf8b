"""What can be decided, each with its own sentence for the history."""

from dataclasses import dataclass
from typing import Any, Literal

from blockwright.model.axis import Way
from blockwright.model.table import Place

_MOST_TOLD = 100
"""Characters of a value that a step of the history repeats."""


def _mm(place: Place) -> str:
    return ", ".join(f"{float(along):.1f}".removesuffix(".0") for along in place)


def told_short(value: object) -> str:
    """A value as a sentence repeats it: on one line, and not at length."""
    if isinstance(value, list | tuple):
        value = ", ".join(str(each) for each in value) or "nothing"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    text = "".join(sign if sign.isprintable() else " " for sign in text)
    return text if len(text) <= _MOST_TOLD else text[: _MOST_TOLD - 3] + "..."


_UNITS = (
    ("_mm2_per_min", " mm² a minute"),
    ("_mm_per_min", " mm a minute"),
    ("_mm2", " mm²"),
    ("_g_per_m2", " g/m²"),
    ("_percent", " %"),
    ("_g", " g"),
    ("_mm", " mm"),
    ("_delta_e00", " (CIEDE2000)"),
    ("_c", " °C"),
    ("dpi", " pixels to the inch"),
)
"""What the end of a setting's name says about its unit; longer endings first."""


def _named(key: str) -> tuple[str, str]:
    """A setting's name as words, and its unit to follow a number.

    >>> _named("margin_left_mm"), _named("kagi_corner")
    (('margin left', ' mm'), ('kagi corner', ''))
    """
    ending, unit = next(((e, u) for e, u in _UNITS if key.endswith(e)), ("", ""))
    bare = "resolution" if ending == key else key.removesuffix(ending)
    return told_short(bare.replace("_", " ")), unit


@dataclass(frozen=True)
class SetValue:
    """Give a plain setting a value; None takes it out, so that the default holds."""

    table: str
    key: str
    value: Any

    def told(self) -> str:
        """What was decided, for the history."""
        words, unit = _named(self.key)
        if self.value is None:
            return f"leave {words} to the picture" if self.table == "design" else f"take the usual {words}"
        if isinstance(self.value, bool):
            return f"{words}: {'yes' if self.value else 'no'}"
        return f"set {words} to {told_short(self.value)}{unit}"


@dataclass(frozen=True)
class AddRecolour:
    """Give the colour under a place (mm) another value; with ``here`` only the shape at that place."""

    at: Place
    to: str
    here: bool = False

    def told(self) -> str:
        """What was decided, for the history."""
        return f"recolour the {'shape' if self.here else 'colour'} at {_mm(self.at)} to {told_short(self.to)}"


@dataclass(frozen=True)
class AddMerge:
    """Give the shape at a place (mm) the colour at another; ``everywhere`` takes its whole colour."""

    at: Place
    into: Place
    everywhere: bool = False

    def told(self) -> str:
        """What was decided, for the history."""
        what = "colour" if self.everywhere else "shape"
        return f"merge the {what} at {_mm(self.at)} into the colour at {_mm(self.into)}"


@dataclass(frozen=True)
class AddDrop:
    """Take the shape at a place (mm) out."""

    at: Place

    def told(self) -> str:
        """What was decided, for the history."""
        return f"drop the shape at {_mm(self.at)}"


@dataclass(frozen=True)
class AddGradation:
    """Let the colour under a place (mm) run from ``start`` to ``end``, mm; without them it is made flat."""

    at: Place
    start: Place | None = None
    end: Place | None = None

    def told(self) -> str:
        """What was decided, for the history."""
        if self.start is None or self.end is None:
            return f"make the colour at {_mm(self.at)} flat"
        return f"let the colour at {_mm(self.at)} run from {_mm(self.start)} to {_mm(self.end)}"


@dataclass(frozen=True)
class SetGradationWay:
    """How the gradation at a place (mm) is printed; None leaves it to the tool."""

    at: Place
    way: Way | None

    def told(self) -> str:
        """What was decided, for the history."""
        way = "as fits" if self.way is None else self.way
        return f"print the gradation at {_mm(self.at)} {_WAYS.get(way, way)}"


_WAYS = {"one ink": "by one ink", "futa-iro": "as futa-iro"}


@dataclass(frozen=True)
class AddName:
    """Name the colour under a place (mm)."""

    at: Place
    name: str

    def told(self) -> str:
        """What was decided, for the history."""
        return f'name the colour at {_mm(self.at)} "{told_short(self.name)}"'


@dataclass(frozen=True)
class AddOverprint:
    """Print the colour at one place (mm) over the colour at another, or not over it."""

    at: Place
    over: Place
    lies: bool

    def told(self) -> str:
        """What was decided, for the history."""
        where = "over" if self.lies else "but not over"
        return f"print the colour at {_mm(self.at)} {where} the colour at {_mm(self.over)}"


@dataclass(frozen=True)
class AddSplit:
    """Print the shape at a place (mm) by an impression of its own, of a name or of one that is made."""

    at: Place
    name: str | None = None

    def told(self) -> str:
        """What was decided, for the history."""
        called = "" if self.name is None else f', "{told_short(self.name)}"'
        return f"print the shape at {_mm(self.at)} by an impression of its own{called}"


@dataclass(frozen=True)
class AddAccept:
    """Leave as it is what a finding points at: the one at a place (mm), or with None all of its kind."""

    finding: str
    at: Place | None = None

    def told(self) -> str:
        """What was decided, for the history."""
        where = "" if self.at is None else f" at {_mm(self.at)}"
        return f'leave "{told_short(self.finding.replace("-", " "))}"{where} as it is'


@dataclass(frozen=True)
class TakeBack:
    """Take out one of the repeated tables, such as the third ``[[design.drop]]``: ``index`` 2."""

    table: str
    key: str
    index: int

    def told(self) -> str:
        """What was decided, for the history."""
        return f"take back hand edit {self.index + 1} ({told_short(self.key)})"


@dataclass(frozen=True)
class SetOrder:
    """Set the printing order by colour names, first to last."""

    names: tuple[str, ...]

    def told(self) -> str:
        """What was decided, for the history."""
        return "print light before dark" if not self.names else "change the printing order"


@dataclass(frozen=True)
class SetPasses:
    """Set how often one colour is printed."""

    colour: str
    times: int

    def told(self) -> str:
        """What was decided, for the history."""
        return f"print {told_short(self.colour)} {'once' if self.times == 1 else f'{self.times} times'}"


@dataclass(frozen=True)
class SetTrapOf:
    """Set the trap of one colour (mm); None gives it the usual trap."""

    colour: str
    mm: float | None

    def told(self) -> str:
        """What was decided, for the history."""
        how_far = "the usual" if self.mm is None else f"{told_short(self.mm)} mm"
        return f"trap {told_short(self.colour)} by {how_far}"


@dataclass(frozen=True)
class SetKey:
    """Make one colour the key, by its name or as ``#rrggbb``; "found" looks for it, "none" makes none."""

    colour: str

    def told(self) -> str:
        """What was decided, for the history."""
        plain = {"found": "look for the key", "none": "make no key"}
        return plain.get(self.colour.strip().casefold(), f"make {told_short(self.colour)} the key")


@dataclass(frozen=True)
class SetEdgeTrap:
    """Set the trap of the edge at a place (mm), or with ``everywhere`` of all edges of its two colours.

    None lets the edge have the trap that is worked out for it; less than 0 lets leaf run over.
    """

    at: Place
    mm: float | None
    everywhere: bool = False

    def told(self) -> str:
        """What was decided, for the history."""
        where = f"the {'edges of the colours' if self.everywhere else 'edge'} at {_mm(self.at)}"
        if self.mm is not None and self.mm < 0.0:
            return f"let leaf run over {where} by {told_short(-self.mm)} mm"
        return f"trap {where} by {'the usual' if self.mm is None else f'{told_short(self.mm)} mm'}"


@dataclass(frozen=True)
class SetFinish:
    """Emboss a colour, or the shape at a place (mm), or lay leaf on it; with neither it has its ink alone.

    ``side`` is the side of the sheet that a block without ink presses, ``metal`` the leaf. ``printed`` tells
    whether the colour is printed there too; None leaves that as it is.
    """

    colour: str | None = None
    at: Place | None = None
    side: Literal["front", "back"] | None = None
    metal: str | None = None
    printed: bool | None = None

    def told(self) -> str:
        """What was decided, for the history."""
        what = told_short(self.colour) if self.at is None else f"the shape at {_mm(self.at)}"
        if self.metal is not None:
            return f"lay {told_short(self.metal)} leaf on {what}"
        if self.side is not None:
            return f"emboss {what} from the {told_short(self.side)}"
        return f"take karazuri and leaf off {what}"


@dataclass(frozen=True)
class SetTake:
    """Print one colour with a mixed ink of the shelf, by its number; None mixes it anew.

    ``times`` also sets how often it is printed.
    """

    colour: str
    shelf: int | None
    times: int | None = None

    def told(self) -> str:
        """What was decided, for the history."""
        if self.shelf is None:
            return f"mix the ink of {told_short(self.colour)} anew"
        often = "" if self.times is None else " once" if self.times == 1 else f" {self.times} times"
        return f"print {told_short(self.colour)}{often} with ink {self.shelf} of the shelf"


@dataclass(frozen=True)
class SetMixFrom:
    """Mix the ink of one colour from these pigments and no others; none: from all that the print may have."""

    colour: str
    pigments: tuple[str, ...]

    def told(self) -> str:
        """What was decided, for the history."""
        these = told_short(self.pigments) if self.pigments else "all pigments there are for it"
        return f"mix the ink of {told_short(self.colour)} from {these}"


@dataclass(frozen=True)
class SetPigments:
    """Mix the inks of the print from these pigments only; none: from all that are on the shelf."""

    names: tuple[str, ...]

    def told(self) -> str:
        """What was decided, for the history."""
        these = told_short(self.names) if self.names else "all pigments on the shelf"
        return f"mix the inks from {these}"


@dataclass(frozen=True)
class SetFaceMethod:
    """Set how one face is cut; None cuts it like the others."""

    face: str
    method: Literal["hand", "stencil", "router"] | None

    def told(self) -> str:
        """What was decided, for the history."""
        return (
            f"cut {told_short(self.face)} {'like the others' if self.method is None else f'by {self.method}'}"
        )


@dataclass(frozen=True)
class SetFaceRouter:
    """Set machine or bits of one face, by name, or how it lies on the machine; None: like the others."""

    face: str
    key: Literal["machine", "bits", "quarter_turn"]
    value: str | tuple[str, ...] | bool | None

    def told(self) -> str:
        """What was decided, for the history."""
        face = told_short(self.face)
        if self.key == "quarter_turn":
            how = "turned by a quarter" if self.value else "as it is carved"
            return f"lay {face} on the machine {'like the others' if self.value is None else how}"
        these = "what the others are" if self.value is None else told_short(self.value)
        return f"rout {face} {'by' if self.key == 'machine' else 'with'} {these}"


SharingHow = Literal["together", "apart", "free", "masked", "unmasked", "on-part", "on-full", "on-either"]
"""How colours share faces, are inked, and on what block they are carved."""


@dataclass(frozen=True)
class SetSharing:
    """Say how colours share faces: "together" on one, "apart", or "free" as is best for the whole print.

    "masked" has each of them inked through a mask, and "unmasked" no longer. "on-part" and "on-full" have
    each of them carved on a part block or on a full one, and "on-either" as is best.
    """

    colours: tuple[str, ...]
    how: SharingHow

    def told(self) -> str:
        """What was decided, for the history."""
        names = told_short(" and ".join(self.colours))
        return {
            "together": f"keep {names} on one face",
            "apart": f"keep {names} on different faces",
            "free": f"let {names} share a face or not",
            "masked": f"ink {names} through a mask",
            "unmasked": f"ink {names} without a mask",
            "on-part": f"carve {names} on a part block",
            "on-full": f"carve {names} on a full block",
            "on-either": f"let {names} stand on a part block or a full one",
        }[self.how]


@dataclass(frozen=True)
class PutBoard:
    """Add a kind of board to those to be had, or with ``was`` its name change one; sizes in mm.

    ``count`` None: as many as are needed can be had. While ``print.toml`` names no boards the usual ones
    hold; with the first change they are written down.
    """

    name: str
    wood: str
    width_mm: float
    height_mm: float
    thickness_mm: float
    grain: Literal["along", "across"] = "along"
    count: int | None = None
    cut: Literal["flat sawn", "quarter sawn"] = "flat sawn"
    moves_percent: float | None = None
    was: str | None = None

    def told(self) -> str:
        """What was decided, for the history."""
        on_hand = "as many as are needed" if self.count is None else f"{told_short(self.count)} on hand"
        size = f"{told_short(self.width_mm)} x {told_short(self.height_mm)} mm".replace(".0 ", " ")
        what = "add" if self.was is None else "change"
        return f'{what} the board "{told_short(self.name)}": {size}, {on_hand}'


@dataclass(frozen=True)
class DropBoard:
    """Take a kind of board out of those to be had."""

    name: str

    def told(self) -> str:
        """What was decided, for the history."""
        return f'take out the board "{told_short(self.name)}"'


@dataclass(frozen=True)
class SetPalette:
    """Set the palette as ``#rrggbb``; None lets the colours be found."""

    hexes: tuple[str, ...] | None

    def told(self) -> str:
        """What was decided, for the history."""
        return "let the colours be found" if self.hexes is None else f"keep these {len(self.hexes)} colours"


Act = (
    SetValue
    | AddRecolour
    | AddMerge
    | AddDrop
    | AddGradation
    | SetGradationWay
    | AddName
    | AddOverprint
    | AddSplit
    | AddAccept
    | TakeBack
    | SetOrder
    | SetPasses
    | SetTrapOf
    | SetKey
    | SetEdgeTrap
    | SetFinish
    | SetTake
    | SetMixFrom
    | SetPigments
    | SetFaceMethod
    | SetFaceRouter
    | SetPalette
    | SetSharing
    | PutBoard
    | DropBoard
)
"""Everything that can be decided."""

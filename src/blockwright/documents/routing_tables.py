"""Tables of a routed face: what each bit does, and what other sets of bits would cost."""

from collections.abc import Mapping, Sequence

from blockwright.documents.sheet import HAIRLINE, Pen, Sheet
from blockwright.documents.type import INK, SECONDARY, Align, Style, shortened
from blockwright.model.cut import BitWork, Routing
from blockwright.model.router import Bit

_HEAD = Style("italic", 10.0, 12.0, SECONDARY)
_CELL = Style("regular", 10.5, 13.0, INK)
_STRONG = Style("semibold", 10.5, 13.0, INK)
_ASIDE = Style("regular", 9.0, 11.4, SECONDARY)
_UNDER = Pen(0.2, INK)
_ROW_MM = 5.6

Column = tuple[str, float, Align]
"""A column's heading, its part of the width, and how it is set."""


def draw_table(
    sheet: Sheet,
    columns: Sequence[Column],
    rows: Sequence[Sequence[str]],
    *,
    x: float,
    y: float,
    width: float,
    strong_row: int | None = None,
) -> float:
    """Draw a table with a rule under each row; return where it ends. Words too long for a cell are cut."""
    for name, left, cell_width, align in _laid(columns, x, width):
        sheet.label(name, _HEAD, _anchor(left, cell_width, align), y + 3.6, align=align)
    y += 5.2
    sheet.line((x, y), (x + width, y), _UNDER)
    for k, row in enumerate(rows):
        style = _STRONG if k == strong_row else _CELL
        for (_, left, cell_width, align), words in zip(_laid(columns, x, width), row, strict=True):
            cell = shortened(words, style, cell_width - 2.0)
            sheet.label(cell, style, _anchor(left, cell_width, align), y + 4.0, align=align)
        y += _ROW_MM
        sheet.line((x, y), (x + width, y), HAIRLINE)
    return y


def _laid(columns: Sequence[Column], x: float, width: float) -> list[tuple[str, float, float, Align]]:
    whole = sum(part for _, part, _ in columns)
    laid: list[tuple[str, float, float, Align]] = []
    for name, part, align in columns:
        laid.append((name, x, width * part / whole, align))
        x += width * part / whole
    return laid


def _anchor(left: float, width: float, align: Align) -> float:
    return left + {"left": 0.0, "centre": width / 2.0, "right": width - 1.0}[align]


def table_height(rows: int) -> float:
    """How high a table of so many rows is, mm."""
    return 5.2 + rows * _ROW_MM


_BITS: tuple[Column, ...] = (
    ("bit", 3.4, "left"),
    ("for", 1.7, "left"),
    ("turns a min", 1.7, "right"),
    ("feed, mm/min", 1.9, "right"),
    ("plunge", 1.3, "right"),
    ("moves", 1.3, "right"),
    ("minutes", 1.3, "right"),
)


def bit_words(bit: Bit) -> str:
    """What a bit is, from its maker's sheet.

    >>> bit_words(Bit(3, "60 degree V", "V", 6.0, 2, 5.0, angle_deg=60.0))
    'T3 60 degree V, 6 mm'
    """
    size = "" if f"{bit.diameter_mm:g} mm" in bit.name else f", {bit.diameter_mm:g} mm"
    return f"T{bit.number} {bit.name}{size}"


def draw_bits(
    sheet: Sheet,
    work: Sequence[BitWork],
    bits: Mapping[str, Bit],
    *,
    idle: Sequence[str] = (),
    x: float,
    y: float,
    width: float,
) -> float:
    """Draw what each bit does, in the order of the programs, and below them those ``idle`` there.

    ``bits`` are by their names.
    """
    rows = [
        (
            bit_words(bits[each.bit]) if each.bit in bits else each.bit,
            each.what,
            f"{each.rpm:.0f}",
            f"{each.feed_mm_min:.0f}",
            f"{each.plunge_mm_min:.0f}",
            f"{each.moves}",
            f"{each.minutes:.0f}" if each.minutes >= 10 else f"{each.minutes:.1f}",
        )
        for each in work
    ]
    y = draw_table(sheet, _BITS, rows, x=x, y=y, width=width)
    if idle:
        y = sheet.write(f"Not needed on this face: {', '.join(idle)}.", _ASIDE, x, y + 0.6, width)
    return y


_CHOICES: tuple[Column, ...] = (
    ("bits", 5.6, "left"),
    ("router, min", 1.5, "right"),
    ("by hand, min", 1.6, "right"),
    ("left to the hand", 2.0, "right"),
)


def draw_choices(sheet: Sheet, routing: Routing, *, x: float, y: float, width: float) -> float:
    """Draw what other sets of bits would cost in router and hand minutes; the one that is used stands out."""
    used = {each.bit for each in routing.work}
    rows = [
        (
            ", ".join(each.bits),
            f"{each.router_min:.0f}",
            f"{each.hand_min:.0f}",
            f"{each.hand_mm2:.0f} mm²" if each.hand_mm2 < 1000 else f"{each.hand_mm2 / 100:.0f} cm²",
        )
        for each in routing.choices
    ]
    chosen = next((k for k, each in enumerate(routing.choices) if set(each.bits) == used), None)
    return draw_table(sheet, _CHOICES, rows, x=x, y=y, width=width, strong_row=chosen)

"""The packet's cautions, and the settings that it rests on."""

from functools import partial
from typing import Any

from pydantic import BaseModel

from blockwright.documents.packet_content import Packet, counted
from blockwright.documents.packet_frame import BODY, NAME, Frame, Page, dealt, text_height
from blockwright.documents.sheet import HAIRLINE, Sheet
from blockwright.documents.type import INK, SECONDARY, Style, strong

CAUTIONS = (
    (
        "Before all else",
        "Your local codes, the makers' data sheets and trained practice come before anything "
        "that stands here.",
    ),
    (
        "Wood dust",
        "Collect it where it arises and do not breathe it. Limits: 15 mg/m³ in all and 5 mg/m³ "
        "respirable (OSHA), 1 mg/m³ (NIOSH). Wood dust is a carcinogen (IARC Group 1; from memory).",
    ),
    (
        "Knives and gouges",
        "Cut away from yourself, with both hands behind the edge. Hold the work against a bench hook or "
        "in a vice, never in the hand. A sharp edge needs less force (common practice).",
    ),
    (
        "Router",
        "Eye and ear protection, and the dust drawn off where it arises. Hold the work down so that nothing "
        "can shift, and let nobody into reach while the spindle turns. Cut air first, above the work. A "
        "program is checked only for what its job sheet says: the machine's manual, local rules and trained "
        "practice come first.",
    ),
    (
        "Sandblasting",
        "Only in licensed premises, with supplied air. No medium with more than 1 % crystalline silica; "
        "limit for silica dust 50 µg/m³, action from 25 µg/m³ (NIOSH, OSHA).",
    ),
    (
        "Pigments",
        "Never sand them dry, and keep food and drink away. Dry cadmium and cobalt pigments harm "
        "when inhaled: read the ASTM D4236 label.",
    ),
    (
        "Leaf",
        "Ground and coating give off solvents: ventilate, no flame near, and keep to the makers' data "
        "sheets. Silver, copper and their alloys tarnish and must be coated.",
    ),
    (
        "Paste and damp paper",
        "Nori keeps for 3 to 7 days in the cold (practitioner's recipe). Throw mouldy paste and paper away.",
    ),
)
"""What the outputs carry, from the sources named in each sentence."""

_NAME = Style("semibold", 10.5, 14.0, INK)
_VALUE = Style("regular", 10.5, 14.0, INK)
_WHY = Style("regular", 10.0, 13.0, SECONDARY)
_TABLE = Style("italic", 13.0, 17.0, INK)

NAME_SHARE, VALUE_SHARE = 0.31, 0.15
LONGEST_LIST = 4


def caution_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the page of cautions; routing, blasting and leaf are named only where there is any."""
    """Return the page of cautions; blasting, routing and leaf are named only where there is any."""
    methods = {each.method for each in packet.cut.faces}
    unused = {"Sandblasting"} if "stencil" not in methods else set()
    unused |= {"Router"} if "router" not in methods else set()
    unused |= {"Leaf"} if not packet.separation.layings else set()
    shown = tuple(each for each in CAUTIONS if each[0] not in unused)
    return [partial(_draw_cautions, frame, shown)]


def _draw_cautions(frame: Frame, cautions: tuple[tuple[str, str], ...], sheet: Sheet) -> None:
    y = frame.heading(sheet, "Cautions")
    for name, words in cautions:
        y = sheet.write(name, NAME, frame.left, y, frame.measure)
        y = sheet.write(words, BODY, frame.left, y, frame.measure) + 4.5


def setting_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the pages that list every setting with its value and where its default comes from."""
    rows = _rows(packet)
    heights = [_row_height(row, frame) for row in rows]
    return [
        partial(_draw_settings, frame, [(rows[index], heights[index]) for index in part])
        for part in dealt(heights, frame.foot - frame.top - 36.0)
    ]


_Row = tuple[str, str, str, bool]
"""Name, value, description, and whether the printmaker changed it; a table's heading has no value."""


def _rows(packet: Packet) -> list[_Row]:
    rows: list[_Row] = []
    for table in type(packet.settings).model_fields:
        rows += _section_rows(table, getattr(packet.settings, table))
    return rows


def _section_rows(table: str, section: BaseModel) -> list[_Row]:
    """A table's heading and its settings; a table within it, which few need, once something in it is set."""
    rows: list[_Row] = [(f"[{table}]", "", "", False)]
    within: list[_Row] = []
    for name, field in type(section).model_fields.items():
        value = getattr(section, name)
        if isinstance(value, BaseModel):
            within += _section_rows(f"{table}.{name}", value) if value != field.default else []
        elif field.description is not None or value:
            changed = not field.is_required() and value != field.default
            rows.append((name, _value_words(value), (field.description or "").replace("`", ""), changed))
    return rows + within


def _value_words(value: Any) -> str:
    if value is None or isinstance(value, bool):
        return {None: "not set", True: "yes", False: "no"}[value]
    if isinstance(value, float | int):
        return f"{value:g}"
    if isinstance(value, tuple):
        return _list_words(value)
    return str(value) or "empty"


def _list_words(value: tuple[Any, ...]) -> str:
    if not value:
        return "none"
    if len(value) <= LONGEST_LIST and all(isinstance(each, str) for each in value):
        return ", ".join(value)
    return counted(len(value), "entry", "entries")


def _columns(frame: Frame) -> tuple[float, float, float]:
    name, value = frame.measure * NAME_SHARE, frame.measure * VALUE_SHARE
    return name, value, frame.measure - name - value


def _row_height(row: _Row, frame: Frame) -> float:
    name, value, why, _ = row
    if not value:
        return _TABLE.leading_mm + 4.5
    widths = _columns(frame)
    return 2.0 + max(
        text_height(name, _NAME, widths[0] - 3),
        text_height(value, _VALUE, widths[1] - 3),
        text_height(why, _WHY, widths[2]),
    )


def _draw_settings(frame: Frame, rows: list[tuple[_Row, float]], sheet: Sheet) -> None:
    y = frame.heading(sheet, "The settings behind this packet", "print.toml")
    lead = (
        "Changed values are ",
        strong("strong"),
        ". Tags: [pub] published, [CP] common practice without a source, [der] derived, [mem] from memory.",
    )
    y = sheet.write(lead, _WHY, frame.left, y - 2.5, frame.measure) + 2.0
    widths = _columns(frame)
    for (name, value, why, changed), height in rows:
        if not value:
            sheet.write(name, _TABLE, frame.left, y + 3.0, frame.measure)
            sheet.line((frame.left, y + height - 0.5), (frame.right, y + height - 0.5), HAIRLINE)
        else:
            sheet.write(name, _VALUE, frame.left, y + 1.0, widths[0] - 3)
            sheet.write(value, _NAME if changed else _VALUE, frame.left + widths[0], y + 1.0, widths[1] - 3)
            sheet.write(why, _WHY, frame.left + widths[0] + widths[1], y + 1.0, widths[2])
        y += height

"""The packet's pages on overprints: what each number of blocks costs, and what lies over what."""

from collections.abc import Callable, Sequence
from functools import partial
from itertools import pairwise

from blockwright.documents.curve_svg import BLOCKS_AXIS, CurveAxes, worst_said
from blockwright.documents.packet_content import Packet, counted
from blockwright.documents.packet_frame import BODY, CAPTION, NOTE, Frame, Page, dealt, text_height
from blockwright.documents.sheet import HAIRLINE, Pen, Sheet
from blockwright.documents.type import ACCENT, INK, SECONDARY, Rich, Span, Style, broken, strong
from blockwright.model.separation import CurvePoint, LiesOver, Overprints, Separation

_PLOT_HEIGHT_MM, _PLOT_LEFT_MM, _PLOT_FOOT_MM, _PLOT_TOP_MM = 74.0, 9.0, 13.0, 7.0

_ROW_MM, _HEAD_MM = 6.2, 10.5
_SAID_MM, _SWATCH_MM = 30.0, 7.0
"""Room for a word beside a row, and the width of a colour's swatch with the gap beside it, mm."""

_MOST_ROWS = 14
"""Rows of the table of blocks on one page; with more, those about the point that was taken are shown."""

_CELL = Style("regular", 12.0, 15.0, INK)
_HERE = Style("semibold", 12.0, 15.0, INK)
_HEAD = Style("italic", 10.5, 12.5, SECONDARY)
_MARK = Style("regular", 10.5, 12.5, SECONDARY)
_LIMIT = Style("regular", 10.5, 12.5, ACCENT)

_AXIS = Pen(0.15, SECONDARY)
_GRID = Pen(0.1, "#d3ccbb")
_WORST = Pen(0.4, INK)
_MEDIAN = Pen(0.3, SECONDARY, (0.6, 0.9))
_LIMIT_LINE = Pen(0.25, ACCENT, (1.4, 1.0))
_RING = Pen(0.5, ACCENT)
_DOT = Pen(0.3, INK)
_SHEET = "#ffffff"

_LIGHTS = ("A", "FL11")


def curve_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the page of the curve and those of the overprints; none where none were searched."""
    found = packet.separation.overprints
    if found is None or not found.curve:
        return []
    widths = _lies_columns(frame)
    heights = [_lies_height(each, widths) for each in found.lies_over]
    pages: list[Page] = [partial(_draw_curve, packet, found, frame)]
    if heights:
        room = frame.foot - frame.top - 17.5 - _HEAD_MM - 12.0
        parts = dealt(heights, room)
        pages += [partial(_draw_lies, packet, found, frame, part) for part in parts]
    return pages


def _draw_curve(packet: Packet, found: Overprints, frame: Frame, sheet: Sheet) -> None:
    taken = next((p for p in found.curve if p.blocks == found.blocks), found.curve[0])
    aside = f"{counted(taken.all_blocks, 'block')}, {counted(taken.all_impressions, 'impression')}"
    top = frame.heading(sheet, "Blocks against colour error", aside)
    top = (
        sheet.write(_paragraph(packet.separation, found, taken), BODY, frame.left, top - 2.0, frame.measure)
        + 3.0
    )
    limit = packet.settings.separation.worst_delta_e00
    _draw_plot(found, limit, sheet, (frame.left, top, frame.measure, _PLOT_HEIGHT_MM))
    _draw_table(found, taken, sheet, frame, top + _PLOT_HEIGHT_MM + 5.0)


def _paragraph(separation: Separation, found: Overprints, taken: CurvePoint) -> Rich:
    """What was taken, what that costs in colour, and how surely fewer cannot."""
    flat = counted(found.colours, "flat colour")
    beside = taken.all_blocks - taken.blocks
    said: list[str | Span] = [
        strong(counted(taken.blocks, "block")),
        f" {'prints' if taken.blocks == 1 else 'print'} the {flat}, the {worst_said(found.curve)} within ",
        f"{taken.reached_max_delta_e00:.1f} of the design (CIEDE2000) and half the area within ",
        f"{taken.median_delta_e00:.1f}.",
    ]
    if beside:
        said.append(f" {counted(beside, 'more block')} {'is' if beside == 1 else 'are'} carved")
        said.append(f" for {words}." if (words := _beside(separation)) else ".")
    for each in found.out_of_reach:
        said.append(f" Out of reach of the inks at hand is {each.colour}: {each.delta_e00:.1f} off, and ")
        said.append(f"no nearer than {each.best_delta_e00:.1f} with any of them.")
    said.append(" " + _bounds(found, taken))
    return tuple(said)


def _beside(separation: Separation) -> str:
    """What has blocks beside those of the flat colours, in words."""
    each = separation.impressions
    there = {
        "gradations": any(one.gradation is not None for one in each),
        "line work": any(one.kind == "key" for one in each),
        "karazuri": any(one.kind == "karazuri" for one in each),
        "what is split off": any(one.split_from is not None for one in each),
    }
    names = [name for name, is_there in there.items() if is_there]
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else "".join(names)


def _bounds(found: Overprints, taken: CurvePoint) -> str:
    never = f"fewer than {found.lower_bound} cannot print so many colours, whatever the inks"
    if not found.tried:
        return f"These are sketched from an earlier search; {never}."
    within = [p for p in found.curve if p.within]
    if not within or taken.blocks != within[0].blocks:
        return f"{never[:1].upper()}{never[1:]}."
    if found.proven:
        return f"Proven: of the {found.tried} inks tried, as they are mixed, no fewer can; and {never}."
    return (
        f"Not proven to be the fewest: of the {found.tried} inks tried, as they are mixed, at least "
        f"{found.tried_bound} are needed; and {never}."
    )


def _draw_plot(found: Overprints, limit: float, sheet: Sheet, box: tuple[float, float, float, float]) -> None:
    left, top, width, height = box
    curve, axes = found.curve, CurveAxes.of(found.curve, limit)

    def x(blocks: float) -> float:
        return left + _PLOT_LEFT_MM + axes.across(blocks) * (width - _PLOT_LEFT_MM)

    def y(delta_e00: float) -> float:
        foot = top + height - _PLOT_FOOT_MM
        return foot - axes.up(delta_e00) * (height - _PLOT_FOOT_MM - _PLOT_TOP_MM)

    sheet.label(
        f"CIEDE2000: {worst_said(curve)}; dotted: median; hollow: beyond limit", _MARK, left, top + 3.0
    )
    for value in axes.differences:
        sheet.line((left + _PLOT_LEFT_MM, y(value)), (left + width, y(value)), _GRID if value else _AXIS)
        sheet.label(f"{value}", _MARK, left + _PLOT_LEFT_MM - 2.0, y(value) + 1.3, align="right")
    for number in axes.blocks:
        sheet.label(f"{number}", _MARK, x(number), y(0) + 5.0, align="centre")
    middle = left + _PLOT_LEFT_MM + (width - _PLOT_LEFT_MM) / 2
    sheet.label(BLOCKS_AXIS, _MARK, middle, y(0) + 11.0, align="centre")
    sheet.line((left + _PLOT_LEFT_MM, y(limit)), (left + width, y(limit)), _LIMIT_LINE)
    sheet.label(f"limit {limit:g}", _LIMIT, left + width, y(limit) - 1.2, align="right")
    for pen, height_of in ((_MEDIAN, _median), (_WORST, _worst)):
        places = [(x(p.all_blocks), y(height_of(p))) for p in curve]
        for start, end in pairwise(places):
            sheet.line(start, end, pen)
    for point in curve:
        at = (x(point.all_blocks), y(point.reached_max_delta_e00))
        sheet.ring(*at, 1.1, pen=_DOT, fill=INK if point.within else _SHEET)
        if point.blocks == found.blocks:
            sheet.ring(*at, 2.4, pen=_RING)


def _worst(point: CurvePoint) -> float:
    return point.reached_max_delta_e00


def _median(point: CurvePoint) -> float:
    return point.median_delta_e00


def _draw_table(found: Overprints, taken: CurvePoint, sheet: Sheet, frame: Frame, top: float) -> None:
    worst = "Worst within reach" if "reach" in worst_said(found.curve) else "Worst colour"
    columns: tuple[tuple[str, Callable[[CurvePoint], str]], ...] = (
        ("Blocks, flat colours", lambda p: f"{p.blocks}"),
        ("Blocks in all", lambda p: f"{p.all_blocks}"),
        ("Impressions in all", lambda p: f"{p.all_impressions}"),
        ("Half the area within", lambda p: f"{p.median_delta_e00:.1f}"),
        (worst, lambda p: f"{p.reached_max_delta_e00:.1f}"),
        ("Edge, flat colours (m)", lambda p: f"{p.edge_mm / 1000.0:.1f}"),
    )
    width = (frame.measure - _SAID_MM) / len(columns)
    for k, (head, _) in enumerate(columns):
        sheet.write(head, _HEAD, frame.left + k * width, top, width - 3.0, align="right")
    top += _HEAD_MM
    rows = _shown(found.curve, taken, int((frame.foot - 7.0 - top) // _ROW_MM))
    for point in rows:
        sheet.line((frame.left, top), (frame.right, top), HAIRLINE)
        style = _HERE if point is taken else _CELL
        for k, (_, cell) in enumerate(columns):
            right = frame.left + (k + 1) * width - 3.0
            sheet.label(cell(point), style, right, top + 4.5, align="right")
        said = "taken" if point is taken else "" if point.within else "beyond the limit"
        sheet.label(said, _LIMIT if point is taken else _MARK, frame.right, top + 4.5, align="right")
        top += _ROW_MM
    sheet.line((frame.left, top), (frame.right, top), HAIRLINE)
    note = "Differences are predictions: print a trial of the overprints before you carve."
    if len(rows) < len(found.curve):
        note += " The other numbers of blocks are in separation.json."
    sheet.write(note, NOTE, frame.left, top + 1.0, frame.measure)


def _shown(curve: Sequence[CurvePoint], taken: CurvePoint, room: int) -> Sequence[CurvePoint]:
    """As many rows as there is room for, about the one that was taken."""
    most = max(1, min(_MOST_ROWS, room))
    if len(curve) <= most:
        return curve
    first = min(max(0, curve.index(taken) - most // 2), len(curve) - most)
    return curve[first : first + most]


def _lies_columns(frame: Frame) -> tuple[float, float, float]:
    """The widths of a colour's name, of its inks, and of one of the numbers, mm."""
    number = 17.0
    name = 0.34 * frame.measure
    return name, frame.measure - name - number * (1 + len(_LIGHTS)), number


def _lies_height(each: LiesOver, widths: tuple[float, float, float]) -> float:
    inks = text_height(_inks(each), _CELL, widths[1] - 4.0)
    return max(inks, text_height(each.colour, _HERE, widths[0] - _SWATCH_MM - 4.0)) + 2.4


def _inks(each: LiesOver) -> str:
    return ", then ".join(each.inks)


def _draw_lies(packet: Packet, found: Overprints, frame: Frame, part: range, sheet: Sheet) -> None:
    """The overprints: the inks of each colour, the lowest first, and how near it is under three lights."""
    count = len(found.lies_over)
    hexes = {colour.name: colour.srgb_hex for colour in packet.design.palette}
    aside = counted(count, "colour") if len(part) == count else f"{part.start + 1} to {part.stop} of {count}"
    top = frame.heading(sheet, "Overprints", aside)
    name, inks, number = _lies_columns(frame)
    numbers = [frame.left + name + inks + number * (k + 1) for k in range(1 + len(_LIGHTS))]
    sheet.write("Colour", _HEAD, frame.left, top, name - 4.0)
    sheet.write("Printed by, the lowest first", _HEAD, frame.left + name, top, inks - 4.0)
    for right, head in zip(numbers, ("By day", "Lamp light", "Shop light"), strict=True):
        sheet.write(head, _HEAD, right - number + 2.0, top, number - 2.0, align="right")
    top += _HEAD_MM
    for each in found.lies_over[part.start : part.stop]:
        sheet.line((frame.left, top), (frame.right, top), HAIRLINE)
        row = top + 0.6
        if each.colour in hexes:
            sheet.box(frame.left, row + 1.2, _SWATCH_MM - 2.0, 3.4, pen=HAIRLINE, fill=hexes[each.colour])
        called, room = frame.left + _SWATCH_MM, name - _SWATCH_MM - 4.0
        sheet.write_lines(broken(each.colour, _HERE, room), _HERE, called, row, room)
        sheet.write_lines(broken(_inks(each), _CELL, inks - 4.0), _CELL, frame.left + name, row, inks - 4.0)
        lights = {light.light: light.delta_e00 for light in each.other_lights}
        told = [each.delta_e00, *(lights.get(light) for light in _LIGHTS)]
        for right, value in zip(numbers, told, strict=True):
            said = "" if value is None else f"{value:.1f}"
            sheet.write(said, _CELL, right - number, row, number, align="right")
        top += _lies_height(each, (name, inks, number))
    sheet.line((frame.left, top), (frame.right, top), HAIRLINE)
    note = (
        "How far each is from the design (CIEDE2000). Under lamp and shop light it is compared with a calm "
    )
    note += "colour that looks like the design's by day."
    sheet.write(note, CAPTION, frame.left, top + 1.0, frame.measure)

"""A card for each ink: how it looks in one to four passes, what is weighed for it, and what to mind."""

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from blockwright.documents.packet_content import InkCards, area_words, counted, times
from blockwright.documents.packet_frame import NAME, NOTE, TEXT, Frame, Page, dealt, text_height
from blockwright.documents.sheet import HAIRLINE, Pen, Sheet
from blockwright.documents.type import ACCENT, INK, Rich, Span, Style, bound, strong
from blockwright.model.inks import MOST_ROUNDING_DELTA_E00, PASTE, Batch, Measure, Origin, PrintInk

SWATCH_MM = (21.0, 14.0)
_STEP_MM = 25.5
_STRIP_MM = 3.6
"""The foot of a swatch, where it shows the ink over the impression that it meets beneath."""

_TOP_MM, _END_MM = 5.0, 4.5
_GAP_MM = 1.6
_NUMBER = Style("semibold", 24.0, 26.0, INK)
_SMALL = Style("regular", 9.5, 11.5, INK)
_EDGE = Pen(0.1, "#8b8272")
_FRAME = Pen(0.6, ACCENT)
_PASSES = ("once", "twice", "3 ×", "4 ×")

LEAD = (
    "Colours are predicted in 36 bands for ink on this paper; ± is how far off that may be (ΔE00): two of "
    "three come nearer. The framed swatch is what is planned. Mix, print a swatch on the edition's paper and "
    "lay it beside the card before the first sheet."
)

CAUTION = (
    "Wear gloves, make no dust, keep food away; the makers' safety data sheets and local rules come first."
)

_KNOWN: dict[Origin, str] = {
    "literature": "pigments as in the literature: hue, not strength",
    "scanned": "known from a scanned swatch, which cannot tell how it looks in other light",
    "measured": "measured",
    "matched": "taken as mixed to match",
}

_OWN_SWATCH: dict[Origin, str] = {
    "scanned": "known by its own swatch, a scan of which cannot tell how it looks in other light",
    "measured": "known by its own swatch, measured",
}
"""What is said of an ink of the shelf that is known by its own swatch."""


def write_ink_cards(path: Path, cards: InkCards, *, size_mm: tuple[float, float]) -> int:
    """Write the cards by themselves and return the number of pages. Raises FolderError."""
    frame = Frame(*size_mm)
    sheet = Sheet(path, width_mm=size_mm[0], height_mm=size_mm[1], title=f"{cards.title}: inks")
    pages = card_pages(cards, frame)
    for number, page in enumerate(pages, start=1):
        page(sheet)
        frame.footer(sheet, cards.title, number, len(pages))
        sheet.end_page()
    return sheet.finish()


def card_pages(cards: InkCards, frame: Frame) -> list[Page]:
    """The pages of the cards; without impressions one page that says so."""
    heights = [_height(cards, index, frame) for index in range(len(cards.impressions))]
    lead_mm = text_height(f"{LEAD} {CAUTION}", NOTE, frame.measure)
    room = frame.foot - frame.top - 17.0 - lead_mm
    parts = dealt(heights, room) or [range(0)]
    return [partial(_draw_page, cards, frame, part, heights) for part in parts]


def _draw_page(cards: InkCards, frame: Frame, part: range, heights: list[float], sheet: Sheet) -> None:
    top = frame.heading(sheet, "Inks", counted(len(cards.impressions), "impression"))
    y = sheet.write(f"{LEAD} {CAUTION}", NOTE, frame.left, top - 2.5, frame.measure) + 3.0
    for index in part:
        sheet.line((frame.left, y), (frame.right, y), HAIRLINE)
        _draw_card(cards, index, frame, sheet, y)
        y += heights[index]
    sheet.line((frame.left, y), (frame.right, y), HAIRLINE)


@dataclass(frozen=True, slots=True)
class _Columns:
    """Where a card's words and swatches stand, mm."""

    words: float
    words_width: float
    swatches: float

    @staticmethod
    def of(frame: Frame) -> "_Columns":
        swatches = frame.right - 3 * _STEP_MM - SWATCH_MM[0]
        words = frame.left + 14.0
        return _Columns(words, swatches - words - 5.0, swatches)


def _height(cards: InkCards, index: int, frame: Frame) -> float:
    columns = _Columns.of(frame)
    beside = text_height(cards.impressions[index].name, NAME, columns.words_width) + text_height(
        _plan(cards, index), NOTE, columns.words_width
    )
    swatches = SWATCH_MM[1] + 11.0
    below = sum(
        text_height(text, style, frame.right - columns.words) + _GAP_MM
        for text, style in _lines(cards, index)
    )
    return _TOP_MM + max(beside, swatches) + below + _END_MM


def _draw_card(cards: InkCards, index: int, frame: Frame, sheet: Sheet, y: float) -> None:
    columns = _Columns.of(frame)
    impression = cards.impressions[index]
    top = y + _TOP_MM
    sheet.label(f"{impression.number}", _NUMBER, frame.left, top + 6.0)
    end = sheet.write(impression.name, NAME, columns.words, top - 1.0, columns.words_width)
    end = sheet.write(_plan(cards, index), NOTE, columns.words, end, columns.words_width)
    _draw_swatches(cards, index, sheet, columns.swatches, top)
    below = max(end, top + SWATCH_MM[1] + 11.0)
    for text, style in _lines(cards, index):
        below = sheet.write(text, style, columns.words, below, frame.right - columns.words) + _GAP_MM


def _draw_swatches(cards: InkCards, index: int, sheet: Sheet, left: float, top: float) -> None:
    impression, ink = cards.impressions[index], cards.inks[index]
    width, height = SWATCH_MM
    over_paper = ink.swatches[0]
    for number, srgb_hex in enumerate(over_paper.srgb_hex):
        x = left + number * _STEP_MM
        sheet.box(x, top, width, height, fill=srgb_hex)
        if len(ink.swatches) > 1:
            sheet.box(x, top + height - _STRIP_MM, width, _STRIP_MM, fill=ink.swatches[1].srgb_hex[number])
        sheet.box(x, top, width, height, pen=_EDGE)
        if number + 1 == impression.passes:
            sheet.box(x - 1.0, top - 1.0, width + 2.0, height + 2.0, pen=_FRAME)
        off = over_paper.uncertainty_delta_e00[number]
        sheet.label(
            f"{_PASSES[number]}, {srgb_hex}", _SMALL, x + width / 2, top + height + 4.6, align="centre"
        )
        sheet.label(f"± {off:.1f}", _SMALL, x + width / 2, top + height + 8.6, align="centre")


def _plan(cards: InkCards, index: int) -> str:
    impression, ink = cards.impressions[index], cards.inks[index]
    wanted = f"{times(impression.passes)}, wanted {impression.srgb_hex}"
    known = _KNOWN | _OWN_SWATCH if ink.known_by == "own swatch" else _KNOWN
    return f"{wanted}; {area_words(impression.area.area)}; {known[ink.origin]}"


def _lines(cards: InkCards, index: int) -> list[tuple[Rich, Style]]:
    """What stands below name and swatches, each with its style."""
    ink = cards.inks[index]
    lines: list[tuple[Rich, Style]] = [(_mix_words(ink, cards.sheets), TEXT)]
    if ink.recipe is not None:
        lines.append((_judgement(ink), NOTE))
    if weighing := _weighing_words(ink):
        lines.append(((strong(weighing),), NOTE))
    if len(ink.swatches) > 1:
        beneath = ink.swatches[1].ground
        lines.append((f"The foot of each swatch: over {beneath}, which runs under it in the trap.", NOTE))
    if ink.near:
        lines.append((_near_words(ink), NOTE))
    lines += [(caution[:1].upper() + caution[1:], NOTE) for caution in ink.cautions]
    return lines


def _mix_words(ink: PrintInk, sheets: int) -> Rich:
    batch = ink.batch or Batch(0.0, 0.0)
    for_edition = f" for {counted(sheets, 'sheet')}, reserve counted"
    amount = f"{_grams(batch.needed_g)} ({batch.needed_ml:.0f} ml)"
    if ink.shelf_number is not None:
        pot = "never weighed" if batch.pot_g is None else f"holds {_grams(batch.pot_g)}"
        return (
            strong(f"Ink {ink.shelf_number} of the shelf, {ink.name}"),
            f": {amount}{for_edition}; its pot {pot}.",
        )
    if not batch.measures:
        return ("Mix to match the design, ", strong(amount), f"{for_edition}.")
    words: list[str | Span] = ["Weigh "]
    for place, measure in enumerate(batch.measures):
        words += [
            ", " if place else "",
            strong(bound(_grams(measure.mass_g))),
            f" ({_millilitres(measure)}) {_component(measure)}",
        ]
    return (*words, f": {amount}{for_edition}.")


def _component(measure: Measure) -> str:
    if measure.thinned > 1:
        return f"{measure.name} thinned 1 : {measure.thinned - 1} with paste"
    return "rice paste" if measure.name == PASTE else measure.name


def _judgement(ink: PrintInk) -> str:
    recipe, batch = ink.recipe, ink.batch
    assert recipe is not None
    words = (
        f"Predicted {recipe.delta_e00:.1f} from the wanted colour by day, {recipe.worst_light_delta_e00:.1f} "
    )
    words += "at worst under lamp or shop light (ΔE00)"
    rounding = 0.0 if batch is None else batch.rounding_delta_e00
    told = 0.05 <= rounding <= MOST_ROUNDING_DELTA_E00
    return words + (f"; rounding to the scale moves it by {rounding:.1f}." if told else ".")


def _weighing_words(ink: PrintInk) -> str:
    """What the scale spoils: a colour that rounding moves visibly, pigments of which there is too little."""
    batch, said = ink.batch, []
    if batch is None:
        return ""
    if batch.rounding_delta_e00 > MOST_ROUNDING_DELTA_E00:
        said.append(f"Rounding to the scale moves the colour by {batch.rounding_delta_e00:.1f} (ΔE00).")
    if batch.too_small:
        said.append(f"So little {' and '.join(batch.too_small)} is hard to weigh.")
    return " ".join([*said, "Mix more at once, or take a finer scale."]) if said else ""


def _near_words(ink: PrintInk) -> str:
    near = [
        f"ink {each.number}, {each.name}, comes within {each.delta_e00:.1f} {times(each.passes)}"
        for each in ink.near
    ]
    return f"On the shelf: {'; '.join(near)}."


def _millilitres(measure: Measure) -> str:
    """A volume as a syringe tells it."""
    return bound(f"{measure.volume_ml:.{2 if measure.volume_ml < 1.0 else 1}f} ml")


def _grams(mass_g: float) -> str:
    """A weight as one reads it off a scale: tenths, finer ones only where there are any."""
    told = f"{mass_g:.3f}".rstrip("0")
    whole, _, part = told.partition(".")
    return f"{whole}.{part or '0'} g"

"""Setting text: styles, emphasis inside a sentence, and breaking lines."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from blockwright.documents.fonts import NO_BREAK, FontFace, plain, width_points
from blockwright.model.units import MM_PER_INCH, POINTS_PER_INCH

POINTS_PER_MM = POINTS_PER_INCH / MM_PER_INCH

INK = "#221e19"
"""Nearly black, warm: text on the papers."""

SECONDARY = "#655d4f"
"""Secondary text; 6.5:1 on white."""

ACCENT = "#9c2f24"
"""The one accent: what asks for attention."""

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:mm|cm|m|h|min|mg|g)(?![A-Za-z])|[%×])")

_SQUARE = re.compile(r"\b([mc]m)2\b")

Align = Literal["left", "centre", "right"]


@dataclass(frozen=True, slots=True)
class Style:
    """How a text is set: face, size and leading in points, colour as ``#rrggbb``."""

    face: FontFace = "regular"
    size: float = 13.0
    leading: float = 18.0
    colour: str = INK

    @property
    def leading_mm(self) -> float:
        """The distance between two baselines in mm."""
        return self.leading / POINTS_PER_MM

    def scaled(self, factor: float) -> "Style":
        """The same style, larger or smaller."""
        return replace(self, size=self.size * factor, leading=self.leading * factor)


@dataclass(frozen=True, slots=True)
class Span:
    """A piece of a sentence that is set in its own face or colour."""

    text: str
    face: FontFace | None = None
    colour: str | None = None


Rich = str | Sequence[str | Span]
"""A sentence: plain text, or a sequence of plain pieces and spans."""

Line = tuple[Span, ...]


def strong(text: str) -> Span:
    """A piece set in semibold."""
    return Span(text, face="semibold")


def slanted(text: str) -> Span:
    """A piece set in italics."""
    return Span(text, face="italic")


def width_mm(text: str, style: Style, face: FontFace | None = None) -> float:
    """Return the width of one line of text in mm."""
    return width_points(text, face or style.face, style.size) / POINTS_PER_MM


def line_width_mm(line: Line, style: Style) -> float:
    """Return the width of a broken line in mm."""
    return sum(width_mm(span.text, style, span.face) for span in line)


def polished(text: str) -> str:
    """Curl apostrophes, raise the 2 of square measures and keep a number on one line with its unit.

    >>> polished("the block's 12 mm2") == "the block’s 12\\u00a0mm²"
    True
    """
    curled = re.sub(r"(?<!\w)'(?=\w)", "‘", plain(text)).replace("'", "’")
    return _BEFORE_UNIT.sub(NO_BREAK, _SQUARE.sub(r"\1²", curled))


def bound(text: str) -> str:
    """Keep a name on one line."""
    return plain(text).replace(" ", NO_BREAK)


def _spans(text: Rich) -> Iterator[Span]:
    for piece in (text,) if isinstance(text, str) else text:
        span = Span(piece) if isinstance(piece, str) else piece
        lead = " " if span.text[:1].isspace() else ""
        tail = " " if span.text.strip() and span.text[-1:].isspace() else ""
        yield replace(span, text=lead + polished(span.text) + tail)


def _wide(sign: str) -> bool:
    """Tell whether a line may break on either side of a sign (ideographs, kana, hangul)."""
    return "\u2e80" <= sign <= "\u9fff" or "\uac00" <= sign <= "\ud7af" or "\uf900" <= sign <= "\ufaff"


def _pieces(span: Span) -> Iterator[Span]:
    """Split a span into words, each with the blank before it, and into single wide characters."""
    word = ""
    for sign in span.text:
        if word.strip() and (sign == " " or _wide(sign) or _wide(word[-1])):
            yield replace(span, text=word)
            word = ""
        word += sign
    if word:
        yield replace(span, text=word)


def _unbreakable(spans: Iterable[Span]) -> Iterator[list[Span]]:
    """Group pieces that have no place to break between them: a full stop stays with the bold word before."""
    group: list[Span] = []
    for piece in (piece for span in spans for piece in _pieces(span)):
        breaks = (
            piece.text.startswith(" ") or _wide(piece.text[:1]) or (group and group[-1].text.endswith(" "))
        )
        if group and breaks:
            yield group
            group = []
        group.append(piece)
    if group:
        yield group


def _split_long(group: list[Span], style: Style, limit_mm: float) -> Iterator[list[Span]]:
    """Break a word that is wider than the line between its letters."""
    if line_width_mm(tuple(group), style) <= limit_mm:
        yield group
        return
    part: list[Span] = []
    for span in group:
        for sign in span.text:
            if part and line_width_mm(_joined([*part, replace(span, text=sign)]), style) > limit_mm:
                yield part
                part = []
            part = list(_joined([*part, replace(span, text=sign)]))
    if part:
        yield part


def _joined(spans: Iterable[Span]) -> Line:
    """Join neighbours that are set alike."""
    line: list[Span] = []
    for span in spans:
        if line and (line[-1].face, line[-1].colour) == (span.face, span.colour):
            line[-1] = replace(line[-1], text=line[-1].text + span.text)
        else:
            line.append(span)
    return tuple(line)


def _without_lead(spans: list[Span]) -> list[Span]:
    return [replace(spans[0], text=spans[0].text.lstrip()), *spans[1:]] if spans else spans


def broken(text: Rich, style: Style, limit_mm: float) -> list[Line]:
    """Break a text into lines no wider than ``limit_mm``; an empty text gives no line.

    >>> [line[0].text for line in broken("one two three", Style(size=10), 15.0)]
    ['one two', 'three']
    """
    lines: list[Line] = []
    current: list[Span] = []
    width = 0.0
    for group in _unbreakable(_spans(text)):
        for part in _split_long(group, style, limit_mm):
            more = line_width_mm(tuple(part), style)
            if current and width + more > limit_mm:
                lines.append(_joined(current))
                current = []
            if not current:
                current = _without_lead(part)
                width = line_width_mm(tuple(current), style)
            else:
                current = [*current, *part]
                width += more
    if current and any(span.text for span in current):
        lines.append(_joined(current))
    return lines


def shortened(text: str, style: Style, limit_mm: float) -> str:
    """Return as much of a text as one line holds, with an ellipsis when something is left out.

    >>> shortened("Tide mill at low water", Style(size=10), 25.0)
    'Tide mill at l…'
    """
    text = plain(text)
    if width_mm(text, style) <= limit_mm:
        return text
    while text and width_mm(text + "…", style) > limit_mm:
        text = text[:-1].rstrip()
    return text + "…"


def fitted(text: str, style: Style, limit_mm: float, *, lines: int, least: float) -> Style:
    """Return the style made smaller, down to ``least`` points, until the text fits ``lines`` lines."""
    while style.size > least and len(broken(text, style, limit_mm)) > lines:
        style = style.scaled(max(0.92, least / style.size))
    return style

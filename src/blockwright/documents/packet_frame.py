"""The packet's page: margins, headings, footers, the styles of its type, and dealing entries out to pages."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from blockwright.documents.sheet import HAIRLINE, Sheet
from blockwright.documents.type import INK, SECONDARY, Rich, Style, broken, fitted, shortened

TITLE = Style("semibold", 34.0, 38.0, INK)
HEADING = Style("semibold", 27.0, 32.0, INK)
NAME = Style("semibold", 16.0, 20.0, INK)
BODY = Style("regular", 14.0, 19.5, INK)
TEXT = Style("regular", 12.5, 17.0, INK)
NOTE = Style("regular", 11.0, 14.5, SECONDARY)
CAPTION = Style("italic", 11.0, 14.0, SECONDARY)
FOOTER = Style("regular", 10.5, 13.0, SECONDARY)

HEADING_LEAST_POINTS = 18.0
HEADING_SHARE = 0.62
"""How much of the measure a heading may take when there are words opposite it."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A page and the part of it that is written on, in mm."""

    width: float
    height: float
    left: float = 18.0
    top: float = 15.0
    foot_room: float = 17.0

    @property
    def measure(self) -> float:
        """The width of the text."""
        return self.width - 2 * self.left

    @property
    def right(self) -> float:
        """The right edge of the text."""
        return self.width - self.left

    @property
    def foot(self) -> float:
        """Where the text must end."""
        return self.height - self.foot_room

    def heading(self, sheet: Sheet, words: str, aside: str = "") -> float:
        """Set the page's heading with words opposite it, and a hairline; return where the page goes on."""
        room = self.measure * (HEADING_SHARE if aside else 1.0)
        style = fitted(words, HEADING, room, lines=1, least=HEADING_LEAST_POINTS)
        baseline = self.top + 9.0
        taken = sheet.label(shortened(words, style, room), style, self.left, baseline)
        if aside:
            sheet.label(
                shortened(aside, TEXT, self.measure - taken - 8.0), TEXT, self.right, baseline, align="right"
            )
        sheet.line((self.left, baseline + 4.0), (self.right, baseline + 4.0), HAIRLINE)
        return baseline + 8.5

    def footer(self, sheet: Sheet, title: str, number: int, total: int) -> None:
        """Set the footer: the print's title and the page's number."""
        place = f" · page {number} of {total}"
        room = self.measure - sheet.text_width(place, FOOTER) - 1.0
        words = shortened(title, FOOTER, room) + place
        sheet.label(words, FOOTER, self.width / 2, self.height - 9.0, align="centre")


Page = Callable[[Sheet], None]
"""Draws one page, without its footer."""


def fit_picture(aspect: float, width: float, height: float) -> tuple[float, float]:
    """Return the largest size of a given aspect (width to height) within a width and a height.

    >>> fit_picture(1.5, 90.0, 90.0)
    (90.0, 60.0)
    """
    return (width, width / aspect) if width / aspect <= height else (height * aspect, height)


def text_height(text: Rich, style: Style, width: float) -> float:
    """Return how high a text stands when it is set to a width, in mm."""
    return len(broken(text, style, width)) * style.leading_mm


def dealt(heights: Sequence[float], room: float, *, first_room: float | None = None) -> list[range]:
    """Deal entries of given heights out to pages; an entry higher than a page has one to itself.

    >>> dealt([40, 40, 40], 100)
    [range(0, 2), range(2, 3)]
    """
    pages: list[range] = []
    start, used = 0, 0.0
    limit = room if first_room is None else first_room
    for index, height in enumerate(heights):
        if index > start and used + height > limit:
            pages.append(range(start, index))
            start, used, limit = index, 0.0, room
        used += height
    if start < len(heights):
        pages.append(range(start, len(heights)))
    return pages

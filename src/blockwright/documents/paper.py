"""Sizes of the papers that the documents are printed on, in mm, upright."""

from typing import Literal

from blockwright.model.units import MM_PER_INCH

PaperName = Literal["A4", "A3", "Letter", "roll"]

SHEETS_MM: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "Letter": (8.5 * MM_PER_INCH, 11.0 * MM_PER_INCH),
}
"""A4 and A3: ISO 216. Letter: size A of ASME Y14.1, 8.5 by 11 inches."""

LONGEST_MM = 14400.0 / 72.0 * MM_PER_INCH
"""The longest page side that readers must accept: 14 400 units (ISO 32000-1, annex C)."""

PRINTER_MARGIN_MM = 8.0
"""Rim in which office printers do not print, with something to spare [CP]."""

"""Measured spectra in plain tables: commas, semicolons or tabs, decimal points or commas, either way round.

Either each row is a sample and the first row names wavelengths, or each column is a sample and the first
column holds wavelengths; the second kind is turned into the first.
"""

import csv
import re

from blockwright.inks.cgats import TextTable
from blockwright.model.errors import InkError

_SEPARATORS = ("\t", ";", ",")

WAVELENGTH = re.compile(
    r"(?:SPECTRAL_?|NM_?|R_?|REFL(?:ECTANCE)?_?)?(?P<unit>NM|PCT|DEC)?_?(?P<nm>[1-9]\d{2,3}(?:[.,]0+)?)\s*_?(?:NM)?"
)
"""How a field that holds one wavelength is spelled, in capitals: SPECTRAL_NM380, SPECTRAL_380, nm380, 380."""

_LEAST_NM, _MOST_NM = 300.0, 1100.0
"""Instruments measure within these; other numbers are no wavelengths."""

_COLOURS = (("LAB_", "LAB"), ("", "LAB"), ("RGB_", "RGB"))

LEAST_WAVELENGTHS = 3
"""A header with fewer is no header of wavelengths."""


def field_nm(field: str) -> float | None:
    """The wavelength in nm that a field's name stands for, or None.

    >>> field_nm("SPECTRAL_NM380"), field_nm("nm400"), field_nm("410 nm"), field_nm("LAB_L")
    (380.0, 400.0, 410.0, None)
    """
    match = WAVELENGTH.fullmatch(field.strip().upper())
    nm = float(match["nm"].replace(",", ".")) if match else 0.0
    return nm if _LEAST_NM <= nm <= _MOST_NM else None


def parse_csv(text: str, *, file: str) -> TextTable:
    """Read a plain table into fields in capitals, rows and their lines; ``file`` is what an error calls it.

    Raises InkError when there are no rows, a row has not as many cells as the header, or neither the first
    row nor the first column holds wavelengths.

    >>> parse_csv("name;380;390;400\\nrose;0,1;0,2;0,3\\n", file="a.csv").fields
    ('NAME', '380', '390', '400')
    """
    rows, lines = _cells(text, file)
    head = [cell.strip() for cell in rows[0]]
    waves = sum(field_nm(cell) is not None for cell in head)
    if waves < LEAST_WAVELENGTHS and not _has_lab(head):
        return _turned(rows, lines, file)
    for row, line in zip(rows[1:], lines[1:], strict=True):
        if len(row) != len(head):
            raise InkError(
                f"{file}, line {line}: {len(row)} cells stand here, but the header has {len(head)}."
            )
    if len(rows) < 2:
        raise InkError(f"{file} has a header but no sample below it.")
    return TextTable(
        tuple(cell.upper() for cell in head),
        tuple(tuple(cell.strip() for cell in row) for row in rows[1:]),
        tuple(lines[1:]),
    )


def _cells(text: str, file: str) -> tuple[list[list[str]], list[int]]:
    """All rows that are not empty, split by the separator that gives the header the most cells."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(_SEPARATORS, key=first.count)
    rows, lines = [], []
    reader = csv.reader(text.splitlines(), delimiter=separator)
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                rows.append(row)
                lines.append(reader.line_num)
    except csv.Error as error:
        raise InkError(f"{file}, line {reader.line_num}: this is no table of cells ({error}).") from error
    if not rows:
        raise InkError(f"{file} is empty.")
    return rows, lines


def _has_lab(head: list[str]) -> bool:
    """Whether a header names CIELAB or RGB."""
    names = {cell.upper().removesuffix("*") for cell in head}
    return any({f"{kind}{axis}" for axis in axes} <= names for kind, axes in _COLOURS)


def _turned(rows: list[list[str]], lines: list[int], file: str) -> TextTable:
    """A table whose first column holds wavelengths, a sample a row."""
    waves = [row[0].strip() for row in rows[1:]]
    wrong = [line for wave, line in zip(waves, lines[1:], strict=True) if field_nm(wave) is None]
    if len(waves) < LEAST_WAVELENGTHS or wrong:
        raise InkError(
            f"{file} names no wavelengths, neither in its first row (380, 390, ...) nor in its first column, "
            "and has no columns L, a, b."
        )
    for row, line in zip(rows, lines, strict=True):
        if len(row) != len(rows[0]):
            raise InkError(
                f"{file}, line {line}: {len(row)} cells stand here, but the header has {len(rows[0])}."
            )
    samples = tuple(
        (rows[0][column].strip(), *(row[column].strip() for row in rows[1:]))
        for column in range(1, len(rows[0]))
    )
    if not samples:
        raise InkError(f"{file} has wavelengths but no sample beside them.")
    return TextTable(("SAMPLE_NAME", *waves), samples, (lines[0],) * len(samples))

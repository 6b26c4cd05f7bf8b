"""Measured samples from a file: spectra on the 36 bands, or only their colour where no spectrum is given.

Read are the text tables of ISO 28178 (CGATS.17) and plain tables (:mod:`blockwright.inks.spectra_csv`).
Reflectances count as percent when any of the table is above MOST_AS_PART, else as parts of 1; field names
that say PCT or DEC decide by themselves. CIELAB is taken as under D50, the rule of the graphic trade's
instruments (ISO 13655), unless a keyword of the file says D65, and is brought to D65 by the linear Bradford
transform (ISO 15076-1, annex E).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.bands import BANDS_NM, on_bands
from blockwright.colour.spectra import reflectance_to_lab, white_point
from blockwright.colour.srgb import lab_to_xyz, xyz_to_lab
from blockwright.inks.cgats import TextTable, compose_cgats, looks_like_cgats, parse_cgats
from blockwright.inks.spectra_csv import WAVELENGTH, field_nm, parse_csv
from blockwright.model.errors import InkError
from blockwright.model.units import Lab

MOST_AS_PART = 2.0
"""A reflectance above this is a percentage: no paper sends back twice the light, and no table of swatches has
nothing above two percent [CP]."""

MOST_BYTES = 20_000_000
"""A table of 10 000 spectra has about 3 MB."""

_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""The cone space in which white points are exchanged (ISO 15076-1, annex E)."""

_LAB_FIELDS = (("LAB_L", "LAB_A", "LAB_B"), ("L*", "A*", "B*"), ("L", "A", "B"))
_ID_FIELDS = ("SAMPLE_ID", "SAMPLEID", "ID", "NO", "NUMBER")
_NAME_FIELDS = ("SAMPLE_NAME", "SAMPLENAME", "NAME", "SAMPLE", "SAMPLE_LOC", "PATCH")


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """One measured sample: ``id`` is unique in its table, ``name`` may be empty.

    ``reflectance`` has shape (36,), 0 to 1, or is None when only the colour, ``lab`` (D65), is known.
    """

    id: str
    name: str
    reflectance: NDArray[np.float64] | None
    lab: Lab


@dataclass(frozen=True, slots=True, eq=False)
class SampleTable:
    """The samples of a file, and in ``notes`` what was decided while reading, each a plain sentence."""

    file: str
    samples: tuple[Sample, ...]
    notes: tuple[str, ...] = ()


def read_table(path: Path) -> SampleTable:
    """Read a file of measured samples, told by its content.

    Raises InkError, with file, line and field, when it is no such table, is cut off, repeats a sample, leaves
    a band out, is measured over too few wavelengths, or has a reflectance outside 0 to 1.
    """
    return parse_table(_text(path), file=path.name)


def parse_table(text: str, *, file: str) -> SampleTable:
    """The same for a text; ``file`` is what an error calls it.

    >>> rows = "name;" + ";".join(str(nm) for nm in range(380, 731, 10)) + "\\nrose" + ";0,25" * 36
    >>> table = parse_table(rows, file="a.csv")
    >>> table.samples[0].name, [round(v) for v in table.samples[0].lab]
    ('rose', [57, 0, 0])
    """
    table = _table(text, file)
    notes = [f"Only the first table of {file} was read; others follow it."] if table.more_tables else []
    table = _unpaired(table, file)
    ids, names = _named(table, file)
    columns = [i for i, field in enumerate(table.fields) if field_nm(field) is not None]
    if columns:
        spectra, said = _spectra(table, columns, ids, file)
        labs = reflectance_to_lab(spectra)
        return SampleTable(file, _samples(ids, names, spectra, labs), (*notes, *said))
    labs, said = _labs(table, file)
    return SampleTable(file, _samples(ids, names, None, labs), (*notes, *said))


def read_values(path: Path, fields: Sequence[str]) -> tuple[tuple[str, ...], NDArray[np.float64]]:
    """The ids and the numbers, shape (samples, fields), of named fields of a file.

    Raises InkError when the file is no table or a field is missing.
    """
    table = _table(_text(path), path.name)
    for field in fields:
        if field not in table.fields:
            raise InkError(f"{path.name} has no field {field}; {', '.join(fields)} are needed.")
    ids, _ = _named(table, path.name)
    columns = [_column(table, table.fields.index(field), path.name) for field in fields]
    return tuple(ids), np.array(columns).T


def compose_table(samples: Sequence[Sample]) -> str:
    """Write samples as a text table of ISO 28178: spectra where all have one, else CIELAB (D65).

    Reflectances are parts of 1, written to six decimals, CIELAB to four. Raises InkError when there is no
    sample.
    """
    if not samples:
        raise InkError("There is no sample to write.")
    spectral = all(sample.reflectance is not None for sample in samples)
    fields = ["SAMPLE_ID", "SAMPLE_NAME"]
    fields += [f"SPECTRAL_NM{nm:.0f}" for nm in BANDS_NM] if spectral else list(_LAB_FIELDS[0])
    rows = []
    for sample in samples:
        values = sample.reflectance if spectral and sample.reflectance is not None else sample.lab
        digits = 6 if spectral else 4
        rows.append([sample.id, sample.name, *(f"{value:.{digits}f}" for value in values)])
    keywords = [("ORIGINATOR", "blockwright")]
    return compose_cgats(fields, rows, keywords=keywords if spectral else [*keywords, ("ILLUMINANT", "D65")])


def lab_d50_to_d65(lab: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIELAB of D50, shape (..., 3), as it is with D65 as white, by the linear Bradford transform.

    >>> lab_d50_to_d65(np.array([60.0, 0.0, 0.0])).round(6)[0].item()
    60.0
    """
    d50, d65 = white_point("D50"), white_point("D65")
    xyz = lab_to_xyz(lab) / lab_to_xyz(np.array([100.0, 0.0, 0.0])) * d50
    gains = (_BRADFORD @ d65) / (_BRADFORD @ d50)
    matrix = np.linalg.inv(_BRADFORD) @ (gains[:, None] * _BRADFORD)
    return xyz_to_lab(xyz @ matrix.T)


def _table(text: str, file: str) -> TextTable:
    if "\0" in text:
        raise InkError(f"{file} is no text; a table of ISO 28178 (CGATS.17) or a CSV file is needed.")
    return parse_cgats(text, file=file) if looks_like_cgats(text) else parse_csv(text, file=file)


def _text(path: Path) -> str:
    try:
        # Not by its size on the disk, which a pipe or a device does not have.
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as problem:
        raise InkError(f"{path.name or path} cannot be read: {problem.strerror}.") from problem
    if len(raw) > MOST_BYTES:
        raise InkError(
            f"{path.name} is larger than {MOST_BYTES // 1_000_000} MB; that is no table of swatches."
        )
    if raw[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        return raw.decode("utf-16", "replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _samples(
    ids: Sequence[str], names: Sequence[str], spectra: NDArray[np.float64] | None, labs: NDArray[np.float64]
) -> tuple[Sample, ...]:
    found = []
    for index, (key, name) in enumerate(zip(ids, names, strict=True)):
        lightness, a, b = labs[index].tolist()
        spectrum = None if spectra is None else spectra[index]
        if spectrum is not None:
            spectrum.flags.writeable = False
        found.append(Sample(key, name, spectrum, (lightness, a, b)))
    return tuple(found)


def _unpaired(table: TextTable, file: str) -> TextTable:
    """Pairs of fields, SPECTRAL_NM and SPECTRAL_PCT or SPECTRAL_DEC, as fields that name their nm."""
    pairs = [i for i, field in enumerate(table.fields) if field == "SPECTRAL_NM"]
    if not pairs:
        return table
    fields = list(table.fields)
    for i in pairs:
        unit = fields[i + 1] if i + 1 < len(fields) else ""
        if unit not in {"SPECTRAL_PCT", "SPECTRAL_DEC"}:
            raise InkError(
                f"{file}: after a field SPECTRAL_NM comes SPECTRAL_PCT or SPECTRAL_DEC, not {unit!r}."
            )
        for row, line in zip(table.rows, table.lines, strict=True):
            if row[i] != table.rows[0][i]:
                raise InkError(
                    f"{file}, line {line}: {row[i]} nm stands where other samples have {table.rows[0][i]}."
                )
        fields[i + 1] = unit + re.sub(r"\.0*$", "", table.rows[0][i])
    keep = [i for i in range(len(fields)) if i not in pairs]
    rows = tuple(tuple(row[i] for i in keep) for row in table.rows)
    return TextTable(tuple(fields[i] for i in keep), rows, table.lines, table.keywords, table.more_tables)


def _named(table: TextTable, file: str) -> tuple[list[str], list[str]]:
    """The id and the name of every sample; ids are told apart."""
    id_column, name_column = (
        next((table.fields.index(f) for f in spellings if f in table.fields), None)
        for spellings in (_ID_FIELDS, _NAME_FIELDS)
    )
    names = ["" if name_column is None else row[name_column] for row in table.rows]
    if id_column is not None:
        ids = [row[id_column] for row in table.rows]
    elif name_column is not None:
        ids = names
    else:
        ids = [str(number) for number in range(1, len(table.rows) + 1)]
    seen: dict[str, int] = {}
    for key, line in zip(ids, table.lines, strict=True):
        if not key:
            raise InkError(f"{file}, line {line}: the sample has no name.")
        if key in seen:
            raise InkError(f"{file}, line {line}: the sample {key!r} stands already on line {seen[key]}.")
        seen[key] = line
    return ids, names


def _number(word: str, file: str, line: int, field: str) -> float:
    """A decimal with a point or a comma; an empty cell or a word is refused."""
    text = word.strip().removesuffix("%").strip()
    if re.fullmatch(r"[-+]?\d*,\d+(?:[eE][-+]?\d+)?", text):
        text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        said = f"{word.strip()!r} is no number" if word.strip() else "the value is missing"
        raise InkError(f"{file}, line {line}, {field}: {said}.")
    return value


def _column(table: TextTable, column: int, file: str) -> list[float]:
    field = table.fields[column]
    return [
        _number(row[column], file, line, field) for row, line in zip(table.rows, table.lines, strict=True)
    ]


def _spectra(
    table: TextTable, columns: list[int], ids: list[str], file: str
) -> tuple[NDArray[np.float64], list[str]]:
    """Reflectances on the 36 bands, shape (samples, 36), and what was decided."""
    columns = sorted(columns, key=lambda i: field_nm(table.fields[i]) or 0.0)
    waves = [field_nm(table.fields[i]) or 0.0 for i in columns]
    for i in range(1, len(waves)):
        if waves[i] == waves[i - 1]:
            raise InkError(f"{file}: the wavelength {waves[i]:g} nm stands in two fields.")
    values = np.array([_column(table, i, file) for i in columns]).T
    units = {match["unit"] for i in columns if (match := WAVELENGTH.fullmatch(table.fields[i]))}
    if {"PCT", "DEC"} <= units:
        raise InkError(f"{file} mixes fields of percent (PCT) and of parts of 1 (DEC); one kind is needed.")
    if "PCT" in units or "DEC" in units:
        percent, why = "PCT" in units, "as its field names say"
    elif float(values.max()) > MOST_AS_PART:
        percent, why = True, f"because some are above {MOST_AS_PART:g}"
    else:
        percent, why = False, f"because none is above {MOST_AS_PART:g}"
    _check_range(values, table, columns, percent=percent, file=file)
    on = on_bands(waves, values / 100.0 if percent else values, hold_ends=True, name=f"the table {file}")
    notes = [f"The reflectances of {file} were read as {'percent' if percent else 'parts of 1'}, {why}."]
    if on.held_nm:
        ends = f"{waves[0]:g} to {waves[-1]:g} nm"
        held = ", ".join(f"{nm:g}" for nm in on.held_nm)
        notes.append(f"{file} is measured from {ends}; at {held} nm the nearest measured value was kept.")
    return on.reflectance.reshape(len(ids), -1), notes


def _check_range(
    values: NDArray[np.float64], table: TextTable, columns: list[int], *, percent: bool, file: str
) -> None:
    most = 100.0 if percent else 1.0
    for wrong, word in ((values < 0.0, "below 0"), (values > most, f"above {most:g}")):
        if wrong.any():
            row, column = (int(i) for i in np.unravel_index(int(wrong.argmax()), wrong.shape))
            raise InkError(
                f"{file}, line {table.lines[row]}, {table.fields[columns[column]]}: {values[row, column]:g} "
                f"is {word}; a reflectance lies between 0 and 1, or 0 and 100 %."
            )


def _labs(table: TextTable, file: str) -> tuple[NDArray[np.float64], list[str]]:
    """CIELAB under D65, shape (samples, 3), where no spectrum is given."""
    spelling = next((names for names in _LAB_FIELDS if set(names) <= set(table.fields)), None)
    if spelling is None:
        raise InkError(
            f"{file} has neither fields of wavelengths, such as SPECTRAL_NM380, nor LAB_L, LAB_A, LAB_B."
        )
    columns = [table.fields.index(name) for name in spelling]
    labs = np.array([_column(table, i, file) for i in columns]).T
    for row, line in zip(labs, table.lines, strict=True):
        if not 0.0 <= row[0] <= 100.0 or np.abs(row[1:]).max() > 200.0:
            raise InkError(
                f"{file}, line {line}: Lab {row[0]:g}, {row[1]:g}, {row[2]:g} is no colour of a print."
            )
    said = " ".join(value for name, value in table.keywords if name != "DESCRIPTOR").upper()
    if "D65" in said and "D50" not in said:
        return labs, [
            f"{file} holds colours without spectra, under D65: under another light they are a guess."
        ]
    return lab_d50_to_d65(labs), [
        f"{file} holds colours without spectra, read as under D50: under another light they are a guess."
    ]

"""Measured tables: those of instruments, our own read back, every spelling, every defect in one sentence."""

import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blockwright.colour.bands import BANDS_NM
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.inks.cgats import compose_cgats, parse_cgats
from blockwright.inks.spectral_tables import (
    Sample,
    compose_table,
    lab_d50_to_d65,
    parse_table,
    read_table,
    read_values,
)
from blockwright.model.errors import InkError

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it warns that its plotting extras are not there
    import colour

WAVES = range(380, 731, 10)
RESOURCES = Path(str(colour.__file__)).parent / "io" / "tests" / "resources"


def cgats(fields: list[str], rows: list[list[str]], before: str = "") -> str:
    """A table as instruments write it, put together by hand."""
    lines = [
        "CGATS.17",
        'ORIGINATOR\t"a test"',
        before,
        f"NUMBER_OF_FIELDS {len(fields)}",
        "BEGIN_DATA_FORMAT",
    ]
    lines += ["\t".join(fields), "END_DATA_FORMAT", f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA"]
    return "\n".join([*lines, *("\t".join(row) for row in rows), "END_DATA", ""])


def spectral(spelling: str = "SPECTRAL_NM{}", value: str = "0.25", waves: range = WAVES) -> str:
    fields = ["SAMPLE_ID", "SAMPLE_NAME", *(spelling.format(nm) for nm in waves)]
    return cgats(fields, [["1", '"wet ochre"', *[value] * len(waves)]])


def samples(count: int, seed: int = 1) -> list[Sample]:
    rng = np.random.default_rng(seed)
    spectra = np.clip(0.5 + np.cumsum(rng.normal(0.0, 0.05, (count, 36)), axis=1), 0.0, 1.0)
    labs = reflectance_to_lab(spectra)
    return [
        Sample(
            f"{i + 1}w1", f"ink {i}", spectra[i], (float(labs[i, 0]), float(labs[i, 1]), float(labs[i, 2]))
        )
        for i in range(count)
    ]


# --- outside truth -----------------------------------------------------------------------------------------


def test_an_instruments_file_reads_as_colour_science_reads_it() -> None:
    """A file of a Spectrolino that comes with colour-science, and that library's reader."""
    path = RESOURCES / "X-Rite_Digital_Colour_Checker.txt"
    theirs = colour.read_sds_from_xrite_file(str(path))
    ours = read_table(path)
    assert [sample.name for sample in ours.samples] == list(theirs)
    for sample in ours.samples:
        assert sample.reflectance is not None
        np.testing.assert_allclose(sample.reflectance, theirs[sample.name].values, atol=1e-12)


def test_what_we_write_reads_as_colour_science_reads_it(tmp_path: Path) -> None:
    """The same reader wants fields nm380; the text is ours but for that."""
    path = tmp_path / "ours.txt"
    given = samples(5)
    named = [Sample(each.id, each.id, each.reflectance, each.lab) for each in given]
    path.write_text(compose_table(named).replace("SPECTRAL_NM", "nm"), encoding="utf-8")
    theirs = colour.read_sds_from_xrite_file(str(path))
    for sample in given:
        assert sample.reflectance is not None
        np.testing.assert_allclose(theirs[sample.id].values, sample.reflectance, atol=1e-6)
        np.testing.assert_allclose(theirs[sample.id].wavelengths, BANDS_NM)


@pytest.mark.parametrize("name", ["colorchecker_n_ohta.csv", "colorchecker_n_ohta_transposed.csv"])
def test_plain_tables_either_way_round_read_as_colour_science_reads_them(name: str) -> None:
    """Ohta's spectra of a colour chart, by 5 nm to 780 nm, which come with colour-science."""
    ours = read_table(RESOURCES / name)
    theirs = colour.read_sds_from_csv_file(
        str(RESOURCES / name), **({"transpose": True, "delimiter": "\t"} if "transposed" in name else {})
    )
    assert len(ours.samples) == 24
    for sample, (_, spectrum) in zip(ours.samples, theirs.items(), strict=True):
        assert sample.reflectance is not None
        np.testing.assert_allclose(sample.reflectance, spectrum[BANDS_NM], atol=1e-12)


def test_lab_of_d50_comes_to_d65_as_colour_science_adapts_it() -> None:
    given = np.array([[52.0, 41.0, -13.0], [80.0, -30.0, 60.0], [20.0, 5.0, 5.0]])
    d50, d65 = (
        colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name] for name in ("D50", "D65")
    )
    xyz = colour.Lab_to_XYZ(given, d50)
    adapted = colour.adaptation.chromatic_adaptation_VonKries(
        xyz, colour.xy_to_XYZ(d50), colour.xy_to_XYZ(d65), transform="Bradford"
    )
    # White points to four digits there, from the tables of ASTM E308 here.
    np.testing.assert_allclose(lab_d50_to_d65(given), colour.XYZ_to_Lab(adapted, d65), atol=0.05)


# --- read back ---------------------------------------------------------------------------------------------


def test_spectra_that_were_written_read_back() -> None:
    given = samples(12)
    table = parse_table(compose_table(given), file="back.txt")
    assert [(s.id, s.name) for s in table.samples] == [(s.id, s.name) for s in given]
    for before, after in zip(given, table.samples, strict=True):
        assert before.reflectance is not None
        assert after.reflectance is not None
        np.testing.assert_allclose(after.reflectance, before.reflectance, atol=1e-6)
        np.testing.assert_allclose(after.lab, before.lab, atol=0.01)


def test_colours_without_spectra_read_back() -> None:
    given = [Sample("a", "rose madder", None, (52.0, 41.0, -13.0))]
    (sample,) = parse_table(compose_table(given), file="back.txt").samples
    assert sample.reflectance is None
    assert sample.lab == pytest.approx((52.0, 41.0, -13.0), abs=1e-3)


@settings(max_examples=60)
@given(
    st.lists(
        st.lists(
            st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), max_size=6),
            min_size=2,
            max_size=2,
        ),
        min_size=1,
        max_size=5,
    )
)
def test_any_words_read_back(rows: list[list[str]]) -> None:
    text = compose_cgats(["A", "B"], rows)
    # A quoted word is never a keyword, and an empty one needs its quotation marks to stand at all.
    assert parse_cgats(text, file="f").rows == tuple(tuple(row) for row in rows)


@settings(max_examples=150)
@given(st.data())
def test_a_damaged_table_is_read_or_refused(data: st.DataObject) -> None:
    text = data.draw(
        st.sampled_from([spectral(), "name;" + ";".join(map(str, WAVES)) + "\nrose" + ";0,3" * 36])
    )
    at = data.draw(st.integers(0, len(text)))
    until = data.draw(st.integers(at, min(len(text), at + 40)))
    damaged = text[:at] + data.draw(st.text(max_size=4)) + text[until:]
    try:
        table = parse_table(damaged, file="swatches.txt")
    except InkError:
        return
    for sample in table.samples:
        assert sample.reflectance is None or ((sample.reflectance >= 0) & (sample.reflectance <= 1)).all()


# --- spellings ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "spelling", ["SPECTRAL_NM{}", "SPECTRAL_{}", "nm{}", "NM_{}", "R{}", "R_{}", "{}", "SPECTRAL_NM_{}"]
)
def test_usual_spellings_of_wavelengths(spelling: str) -> None:
    (sample,) = parse_table(spectral(spelling), file="s.txt").samples
    assert sample.name == "wet ochre"
    assert sample.reflectance is not None
    np.testing.assert_allclose(sample.reflectance, 0.25)


def test_percent_is_told_by_values_above_two_and_by_field_names() -> None:
    percent = parse_table(spectral(value="25"), file="s.txt")
    assert percent.samples[0].reflectance is not None
    np.testing.assert_allclose(percent.samples[0].reflectance, 0.25)
    assert "read as percent, because some are above 2" in percent.notes[0]
    dark = parse_table(spectral("SPECTRAL_PCT{}", value="1.5"), file="s.txt")
    assert dark.samples[0].reflectance is not None
    np.testing.assert_allclose(dark.samples[0].reflectance, 0.015)
    assert "as its field names say" in dark.notes[0]


def test_fields_in_pairs() -> None:
    fields = ["SAMPLE_ID", *(["SPECTRAL_NM", "SPECTRAL_PCT"] * 36)]
    values = [word for nm in WAVES for word in (str(nm), "40.0")]
    (sample,) = parse_table(cgats(fields, [["7", *values]]), file="s.txt").samples
    assert sample.reflectance is not None
    np.testing.assert_allclose(sample.reflectance, 0.4)


@pytest.mark.parametrize(
    ("separator", "number"), [(";", "0,25"), ("\t", "0,25"), ("\t", "0.25"), (",", "0.25"), (",", '"0,25"')]
)
def test_plain_tables(separator: str, number: str) -> None:
    text = (
        separator.join(["Name", *map(str, WAVES)])
        + "\r\n"
        + separator.join(["rose", *[number] * 36])
        + "\r\n"
    )
    (sample,) = parse_table(text, file="s.csv").samples
    assert sample.reflectance is not None
    np.testing.assert_allclose(sample.reflectance, 0.25)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    path = tmp_path / "s.txt"
    path.write_bytes(spectral().replace("wet ochre", "grün").encode(encoding))
    assert read_table(path).samples[0].name == "grün"


def test_ends_that_are_not_measured_are_held_and_said() -> None:
    table = parse_table(spectral(waves=range(400, 701, 10)), file="s.txt")
    assert "measured from 400 to 700 nm; at 380, 390, 710, 720, 730 nm" in table.notes[1]


def test_colours_are_taken_as_under_d50_unless_the_file_says_d65() -> None:
    fields, row = ["SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B"], ["1", "50", "40", "20"]
    d50 = parse_table(cgats(fields, [row]), file="s.txt")
    d65 = parse_table(cgats(fields, [row], before='ILLUMINATION_NAME "D65"'), file="s.txt")
    assert d65.samples[0].lab == (50.0, 40.0, 20.0)
    assert d50.samples[0].lab != (50.0, 40.0, 20.0)
    assert "D50" in d50.notes[0]


def test_named_values_are_read(tmp_path: Path) -> None:
    path = tmp_path / "rgb.csv"
    path.write_text("sample_id,RGB_R,RGB_G,RGB_B\nA1,10,20,30\n", encoding="utf-8")
    ids, values = read_values(path, ["RGB_R", "RGB_G", "RGB_B"])
    assert ids == ("A1",)
    assert values.tolist() == [[10.0, 20.0, 30.0]]
    with pytest.raises(InkError, match=r"rgb\.csv has no field LAB_L"):
        read_values(path, ["LAB_L"])


# --- defects -----------------------------------------------------------------------------------------------

GOOD = spectral()
ROW = next(line for line in GOOD.splitlines() if line.startswith("1\t"))
ROW_LINE = GOOD.splitlines().index(ROW) + 1
DEFECTS = {
    "negative": (
        GOOD.replace("0.25", "-0.02", 1),
        rf"s\.txt, line {ROW_LINE}, SPECTRAL_NM380: -0\.02 is below 0",
    ),
    "over unity": (GOOD.replace("0.25", "1.2", 1), "SPECTRAL_NM380: 1.2 is above 1"),
    "over a hundred percent": (spectral(value="101"), "SPECTRAL_NM380: 101 is above 100"),
    "no number": (GOOD.replace("0.25", "n/a", 1), "SPECTRAL_NM380: 'n/a' is no number"),
    "a band is empty": ("name;380;390;400\nrose;0,1;;0,3", "line 2, 390: the value is missing"),
    "a gap": (spectral(waves=range(380, 731, 35)), "no wavelength lies between 380 and 415 nm"),
    "too short a range": (spectral(waves=range(420, 681, 10)), "measured from 420 to 680 nm; 410 to 700 nm"),
    "twice": (
        GOOD.replace(ROW, f"{ROW}\n{ROW}").replace("SETS 1", "SETS 2"),
        f"line {ROW_LINE + 1}: the sample '1' stands already on line {ROW_LINE}",
    ),
    "cut off in a row": (
        GOOD[: GOOD.index("0.25") + 40],
        "values stand here, but the format names 38 fields",
    ),
    "cut off after a row": (GOOD[: GOOD.index("END_DATA\n")], "is cut off: END_DATA is missing"),
    "cut off in the format": (GOOD[: GOOD.index("SPECTRAL_NM500")], "is cut off: END_DATA_FORMAT is missing"),
    "wrong count of sets": (GOOD.replace("SETS 1", "SETS 3"), "NUMBER_OF_SETS says 3, but there are 1 sets"),
    "wrong count of fields": (
        GOOD.replace("FIELDS 38", "FIELDS 40"),
        "NUMBER_OF_FIELDS says 40, but there are 38",
    ),
    "count is no number": (GOOD.replace("SETS 1", "SETS many"), "NUMBER_OF_SETS is 'many'"),
    "open quotation": (GOOD.replace('"wet ochre"', '"wet'), "a quotation mark is not closed"),
    "no format": ("BEGIN_DATA\n1 2\nEND_DATA", "no BEGIN_DATA_FORMAT names fields"),
    "a stray end": ("END_DATA\nBEGIN_DATA_FORMAT\n", "a part ends here that has not begun"),
    "a part in a part": ("BEGIN_DATA_FORMAT\nA\nBEGIN_DATA\n", "a new part begins"),
    "no samples": (GOOD.replace(ROW + "\n", "").replace("SETS 1", "SETS 0"), "has no sample"),
    "neither spectrum nor colour": (
        cgats(["SAMPLE_ID", "CMYK_C"], [["1", "50"]]),
        "neither fields of wavelengths",
    ),
    "a wavelength twice": (
        spectral().replace("SPECTRAL_NM390", "SPECTRAL_NM380"),
        "380 nm stands in two fields",
    ),
    "no such colour": (cgats(["LAB_L", "LAB_A", "LAB_B"], [["150", "0", "0"]]), "is no colour of a print"),
    "mixed units": (
        GOOD.replace("SPECTRAL_NM380", "SPECTRAL_PCT380").replace("SPECTRAL_NM390", "SPECTRAL_DEC390"),
        "mixes fields of percent",
    ),
    "no name": (GOOD.replace(ROW, ROW.replace("1\t", '""\t', 1)), "the sample has no name"),
    "empty": ("", "is empty"),
    "no table": ("Dear printer,\nhere is my ink.\n", "names no wavelengths"),
    "header only": ("name;380;390;400\n", "has a header but no sample"),
    "ragged": ("name;380;390;400\nrose;0,1;0,2\n", "line 2: 3 cells stand here, but the header has 4"),
    "no text": ("\0\0\0", "is no text"),
    "pairs without values": (
        cgats(["SAMPLE_ID", "SPECTRAL_NM"], [["1", "380"]]),
        "comes SPECTRAL_PCT or SPECTRAL_DEC",
    ),
}


@pytest.mark.parametrize("defect", DEFECTS)
def test_a_defect_is_told_in_one_sentence_with_its_place(defect: str) -> None:
    text, message = DEFECTS[defect]
    with pytest.raises(InkError, match=message) as refusal:
        parse_table(text, file="s.txt")
    assert str(refusal.value).startswith(("s.txt", "In the table s.txt", "The table s.txt"))
    assert "\n" not in str(refusal.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(InkError, match=r"none\.txt cannot be read: No such file"):
        read_table(tmp_path / "none.txt")
    with pytest.raises(InkError, match="cannot be read: Is a directory"):
        read_table(tmp_path)
    with pytest.raises(InkError, match="There is no sample"):
        compose_table([])


def test_a_second_table_is_told_of() -> None:
    assert "Only the first table" in parse_table(GOOD + GOOD, file="s.txt").notes[0]

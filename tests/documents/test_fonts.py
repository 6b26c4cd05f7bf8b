import hashlib
import json
import shutil
import subprocess
from pathlib import Path

import pypdfium2
import pytest

from blockwright.documents.fonts import drawable, face_bytes, plain, runs, width_points
from blockwright.documents.sheet import Sheet
from blockwright.documents.type import (
    Rich,
    Span,
    Style,
    bound,
    broken,
    fitted,
    line_width_mm,
    shortened,
    strong,
)

ROOT = Path(__file__).resolve().parents[2]
BODY = Style("regular", 12.0, 16.0)
EUROPEAN = "Ōban, Łódź, ñ, é, –, “ ”, ‘ ’, ×, ΔE, ², °, ½, µ, ±, Ελλάς, Вода, Việt"


def extracted(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    text = str(document[0].get_textpage().get_text_range())
    document.close()
    return text


def printed(path: Path, text: str) -> str:
    sheet = Sheet(path, width_mm=200, height_mm=50, title="letters")
    sheet.write(text, BODY, 10, 10, 180)
    sheet.end_page()
    sheet.finish()
    return extracted(path)


def test_the_committed_fonts_are_those_of_the_manifest() -> None:
    manifest = json.loads((ROOT / "vendor" / "manifest.json").read_text())
    (package,) = (each for each in manifest["packages"] if each["rebuild"] == "python vendor/fonts.py")
    assert package["licence"] == "OFL-1.1"
    for file in package["files"]:
        assert hashlib.sha256((ROOT / file["path"]).read_bytes()).hexdigest() == file["sha256"]
    assert "SIL OPEN FONT LICENSE" in (ROOT / "src/blockwright/data/fonts/OFL.txt").read_text()


@pytest.mark.parametrize("face", ["regular", "italic", "semibold"])
def test_each_face_is_small_and_holds_the_european_letters(face: str) -> None:
    assert len(face_bytes(face)) < 300_000  # type: ignore[arg-type]
    assert [font for font, _ in runs(EUROPEAN, face)] == [f"BlockwrightSerif-{face}"]


def test_figures_are_tabular() -> None:
    assert len({width_points(figure, "regular", 10.0) for figure in "0123456789"}) == 1


def test_european_letters_come_back_out_of_the_file(tmp_path: Path) -> None:
    assert printed(tmp_path / "a.pdf", EUROPEAN).replace("\r\n", " ") == EUROPEAN.replace("\u00a0", " ")


def test_signs_and_east_asian_titles_come_back_out_of_the_file(tmp_path: Path) -> None:
    text = printed(tmp_path / "a.pdf", "潮の水車 ≤ 2 ≥ 1 → 東海道")
    assert "潮の水車" in text
    assert "東海道" in text
    assert "≤ 2 ≥ 1" in text


def _has_japanese_font() -> bool:
    told = shutil.which("fc-list")
    return told is None or bool(subprocess.run([told, ":lang=ja"], capture_output=True, check=True).stdout)


def test_east_asian_letters_leave_ink_of_different_shapes(tmp_path: Path) -> None:
    counts = []
    for sign in "一車":
        printed(tmp_path / "a.pdf", sign * 4)
        document = pypdfium2.PdfDocument(tmp_path / "a.pdf")
        pixels = document[0].render(scale=4).to_numpy()[..., 0]
        document.close()
        counts.append(int((pixels < 128).sum()))
    if not any(counts) and not _has_japanese_font():
        pytest.skip("no font of this machine shows East Asian letters; readers bring their own")
    # A dash-like and a dense ideograph: boxes for missing glyphs would leave the same ink for both.
    assert 0 < counts[0] < counts[1]


def test_what_nothing_can_print_becomes_a_question_mark_or_its_nearest_letter() -> None:
    assert drawable("a\U0001f600b", "regular") == "a?b"
    assert "".join(part for _, part in runs("ﬁn ⅓ 𝐀", "regular")) == "fin 1/3 A"


def test_control_characters_and_lone_surrogates_are_blanks() -> None:
    assert plain("a\x00b\ud800c\u200bd\n\n e ") == "a b c d e"


def test_lines_are_never_wider_than_the_measure() -> None:
    texts: list[Rich] = [
        "one " * 60,
        "x" * 300,
        "潮" * 90,
        "a" * 3 + " " + "b" * 80,
        ["so ", strong("very " * 40), "."],
    ]
    for text in texts:
        lines = broken(text, BODY, 40.0)
        assert len(lines) > 1
        assert max(line_width_mm(line, BODY) for line in lines) <= 40.0 + 1e-9


def test_no_word_is_lost_in_breaking() -> None:
    words = [f"word{number}" for number in range(80)]
    lines = broken(" ".join(words), BODY, 45.0)
    assert " ".join(span.text for line in lines for span in line).split() == words


def test_a_full_stop_stays_with_the_strong_word_before_it() -> None:
    for width in range(20, 60):
        lines = broken(["Print it ", strong("twice"), "."], BODY, float(width))
        assert all(line[0].text.lstrip()[:1] != "." for line in lines)


def test_a_number_stays_with_its_unit_and_a_bound_name_is_whole() -> None:
    for width in range(22, 60):
        texts = ["".join(s.text for s in line) for line in broken("It is 12 mm wide", BODY, float(width))]
        assert not any(text.startswith("mm") for text in texts)
        lines = broken(("from ", Span(bound("A front"))), BODY, float(width))
        assert not any(line[0].text.startswith("front") for line in lines)


def test_empty_text_gives_no_line() -> None:
    assert broken("", BODY, 40.0) == []
    assert broken(" \n ", BODY, 40.0) == []


def test_shortened_and_fitted_keep_within_the_measure() -> None:
    short = shortened("Tide mill at low water " * 9, BODY, 50.0)
    assert short.endswith("…")
    assert width_points(short, "regular", 12.0) * 25.4 / 72 <= 50.0
    style = fitted("Tide mill at low water", Style("semibold", 40.0, 44.0), 60.0, lines=1, least=8.0)
    assert len(broken("Tide mill at low water", style, 60.0)) == 1
    assert fitted("x " * 400, BODY, 60.0, lines=1, least=9.0).size == pytest.approx(9.0)

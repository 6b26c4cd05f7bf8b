from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
import pypdfium2
import pytest
import shapely
from sample_print import SamplePrint, make_packet, make_print

from blockwright.blocks import lay_out_blocks
from blockwright.documents import Packet, write_packet
from blockwright.model.errors import FolderError
from blockwright.model.findings import Finding
from blockwright.model.settings import Settings

MM = 25.4 / 72
"""One PDF unit in mm (ISO 32000-1, 8.3.2.3)."""


@cache
def sample() -> SamplePrint:
    return make_print()


@cache
def single() -> SamplePrint:
    return make_print(count=1, findings=1)


def titled(title: str) -> SamplePrint:
    return replace(single(), design=replace(single().design, title=title))


def texts_of(path: Path) -> list[str]:
    """Every page's text on one line, read by pypdfium2."""
    document = pypdfium2.PdfDocument(path)
    texts = [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    document.close()
    return texts


def crowded(page: Any, text: Any) -> list[str]:
    """Letters that lie over other letters or outside the page's margins, read by pypdfium2."""
    count = text.count_chars()
    signs = [text.get_text_range(index, 1) for index in range(count)]
    boxes = np.array([text.get_charbox(index) for index in range(count)]).reshape(-1, 4)
    shown = np.array([bool(sign.strip()) for sign in signs], dtype=bool)
    left, low, right, high = boxes[shown].T
    letters = [sign for sign, keep in zip(signs, shown, strict=True) if keep]
    width, height = page.get_size()
    edge = 7.0 / MM
    out = (left < edge) | (right > width - edge) | (low < edge) | (high > height - edge)
    # Neighbours may touch, an italic f always does; well-set lines never share the inner part of a letter.
    inset = np.minimum(0.3 * (high - low), 2.0)
    inner = shapely.box(left + 0.8, low + inset, np.maximum(right - 0.8, left + 0.9), high - inset)
    one, other = shapely.STRtree(inner).query(inner, predicate="intersects")
    over = [letters[a] + letters[b] for a, b in zip(one, other, strict=True) if b - a > 1]
    return [letter for letter, wrong in zip(letters, out, strict=True) if wrong] + over


def assert_well_set(path: Path) -> None:
    document = pypdfium2.PdfDocument(path)
    for number, page in enumerate(document, start=1):
        assert crowded(page, page.get_textpage()) == [], f"page {number}"
    document.close()


@pytest.mark.parametrize(("paper", "size"), [("A4", (210.0, 297.0)), ("Letter", (215.9, 279.4))])
def test_nothing_runs_into_anything_else(tmp_path: Path, paper: str, size: tuple[float, float]) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, make_packet(sample(), paper=paper))
    assert_well_set(path)
    document = pypdfium2.PdfDocument(path)
    assert [each * MM for each in document[0].get_size()] == pytest.approx(size, abs=0.01)
    document.close()


def test_the_packet_says_everything_in_its_order(tmp_path: Path) -> None:
    path = tmp_path / "packet.pdf"
    pages = write_packet(path, make_packet(sample()))
    texts = texts_of(path)
    assert len(texts) == pages
    heads = ["Tide mill", "What to look at", "Printing order", "A front", "A back", "B front", "B back"]
    heads += ["C front", "C back", "Inks", "Inks", "Registration", "Before the first pull", "Cautions"]
    for text, head in zip(texts, heads, strict=False):
        assert text.startswith(head)
    for number, text in enumerate(texts, start=1):
        assert f"Tide mill at low water · page {number} of {pages}" in text
    cover, found, order = texts[:3]
    assert "The image is 360 × 240 mm on a sheet of 390 × 270 mm." in cover
    assert "6 impressions from 6 faces of 3 boards" in cover
    assert "Predicted for the inks of this packet, not measured" in cover
    assert "at the median and 4.2 over nineteen parts in twenty" in cover
    assert "Stops the work: A line of far shore is only 0.22 mm wide" in cover
    assert "There are 2 more like it." in cover
    assert found.count("mm)") == 3
    assert "Print it twice, from A front; 425 cm²." in order
    assert "Drawn mirrored, as you see it on the wood" in texts[3]
    assert "kagi 8 mm from the right edge and 8 mm from the lower edge" in texts[3]
    assert "Files: A front face down.pdf." in texts[3]
    inks = " ".join(texts[9:11])
    assert (
        "Weigh 3.2 g (2.1 ml) burnt umber, 1.1 g (0.90 ml) Hansa yellow thinned 1 : 9 with paste, 21.4 g"
        in inks
    )
    assert "On the shelf: ink 7, old ochre, comes within 1.2 twice." in inks
    assert "Burnt umber: contains manganese" in inks
    assert "Ink 12 of the shelf" in inks
    assert "its pot holds 18.0 g" in inks
    assert "Mix to match the design" in inks
    assert "safety data sheets and local rules come first" in inks
    assert "The 100 mm bar on every transfer sheet measures 100 mm." in texts[12]
    assert "local codes" in texts[13]
    assert "Sandblasting" not in texts[13]
    assert "trap_mm 0.5" in "".join(texts[14:])


def test_what_is_found_about_the_inks_is_told(tmp_path: Path) -> None:
    packet = make_packet(sample())
    inks = replace(packet.inks, findings=(Finding("recipe-misses", "warn", "Tide is missed by 4.2."),))
    proof = replace(packet.proof, median_uncertainty_delta_e00=9.4)
    write_packet(tmp_path / "packet.pdf", replace(packet, inks=inks, proof=proof))
    cover, *more = texts_of(tmp_path / "packet.pdf")
    assert any("Tide is missed by 4.2." in text for text in (cover, more[0]))
    assert "give or take 9 for what is not known of the inks" in cover


def test_a_stencil_packet_carries_the_cautions_of_blasting(tmp_path: Path) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, make_packet(make_print(method="stencil", count=2)))
    text = " ".join(texts_of(path))
    assert "No medium with more than 1 % crystalline silica" in text
    assert "The stencil reaches 25 mm past the block on every side." in text


def test_a_print_without_impressions_is_still_a_packet(tmp_path: Path) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, make_packet(make_print(count=0)))
    assert_well_set(path)
    assert "0 impressions from 0 faces of 0 boards" in texts_of(path)[0]


@pytest.mark.parametrize("corner", ["upper left", "upper right", "lower left"])
@pytest.mark.parametrize("side", ["long", "short"])
def test_marks_at_other_corners_and_a_sheet_wider_than_the_block(
    tmp_path: Path, corner: str, side: str
) -> None:
    settings = Settings.model_validate(
        {
            "print": {"title": "Turned", "width_mm": 360.0},
            "blocks": {"kagi_corner": corner, "hikitsuke_side": side, "margin_left_mm": 40.0},
        }
    )
    blocks = lay_out_blocks(single().separation, width_mm=360.0, height_mm=240.0, settings=settings.blocks)
    path = tmp_path / "packet.pdf"
    write_packet(path, replace(make_packet(single()), blocks=blocks, settings=settings))
    assert_well_set(path)
    upper, left = corner.split()
    kagi = f"Kagi: 8 mm from the {left} edge and 8 mm from the {upper} edge."
    assert any(kagi in text for text in texts_of(path) if text.startswith("Registration"))


def test_the_settings_of_the_router_are_listed_once_one_of_them_is_set(tmp_path: Path) -> None:
    packet, path = make_packet(single()), tmp_path / "packet.pdf"
    write_packet(path, packet)
    assert not any("[cutting.router]" in text for text in texts_of(path))
    router = packet.settings.cutting.router.model_copy(update={"wall_deg": 65.0})
    cutting = packet.settings.cutting.model_copy(update={"router": router})
    settings = packet.settings.model_copy(update={"cutting": cutting})
    write_packet(path, replace(packet, settings=settings))
    assert_well_set(path)
    whole = " ".join(texts_of(path))
    assert whole.index("[cutting]") < whole.index("[cutting.router]") < whole.index("[proof]")
    assert "wall_deg" in whole


def upright(packet: Packet) -> Packet:
    """The same print as if it stood upright, with its pictures turned."""

    def turned(pixels: Any) -> Any:
        return np.ascontiguousarray(np.swapaxes(pixels, 0, 1))

    return replace(
        packet,
        design=replace(packet.design, width_mm=240.0, height_mm=360.0),
        design_picture=turned(packet.design_picture),
        proof_picture=turned(packet.proof_picture),
        progressive=tuple(turned(each) for each in packet.progressive),
    )


@pytest.mark.parametrize("count", [1, 6, 30])
def test_one_and_thirty_impressions_and_an_upright_print(tmp_path: Path, count: int) -> None:
    path = tmp_path / "packet.pdf"
    packet = make_packet(make_print(count=count, findings={1: 0, 6: 3, 30: 70}[count]))
    pages = write_packet(path, upright(packet))
    assert_well_set(path)
    assert path.stat().st_size < 15_000_000
    text = " ".join(texts_of(path))
    assert f"{count} impression" in text
    assert f"page {pages} of {pages}" in text
    if count == 1:
        assert "Nothing was found that should be looked at." in text
    if count == 30:
        assert "This print has more: keep spare paper at the corners." in text
        assert "There are 64 more like it: see blockwright check." in text


@pytest.mark.parametrize(
    ("title", "shown"),
    [
        ("", "Untitled print"),
        ("     ", "Untitled print"),
        ("潮汐の水車", "潮汐の水車"),
        ("<b>Mill</b> & 'tide' \\ (50 %)", "<b>Mill</b> &"),
        ("Ōban Łódź ñ é – “×” ≤ ΔE ² ° ½ \U0001f600", "Ōban Łódź ñ é – “×” ≤ ΔE ² ° ½ ?"),
        ("wide " * 40, "wide wide wide"),
        ("W" * 200, "WWWWWWWW"),
    ],
)
def test_odd_titles(tmp_path: Path, title: str, shown: str) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, make_packet(titled(title)))
    assert_well_set(path)
    assert shown in texts_of(path)[0]


def test_long_names_and_findings_of_every_kind_keep_their_places(tmp_path: Path) -> None:
    base = make_packet(sample())
    name = "the colour of the far shore just before the sun has gone down, twice"
    found = tuple(
        Finding(f"code-{k}", "warn", "A word of warning about this and that, at length. " * (k + 1), None)
        for k in range(6)
    )
    separation = replace(
        base.separation,
        impressions=tuple(replace(each, name=name) for each in base.separation.impressions),
        findings=found,
    )
    path = tmp_path / "packet.pdf"
    packet = replace(base, separation=separation, design=replace(base.design, findings=()))
    write_packet(path, packet)
    assert_well_set(path)
    write_packet(path, upright(packet))
    assert_well_set(path)
    assert "The rest is on the next page." in texts_of(path)[0]


def test_pictures_are_embedded_no_finer_than_200_dots_to_the_inch(tmp_path: Path) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, make_packet(sample()))
    with pdfplumber.open(path) as document:
        images = [image for page in document.pages for image in page.images]
    assert len(images) == 9
    for image in images:
        dots = image["srcsize"][0] / ((image["x1"] - image["x0"]) / 72)
        assert 100 < dots < 201


def test_marks_are_drawn_at_true_size_on_the_registration_page(tmp_path: Path) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, make_packet(sample()))
    with pdfplumber.open(path) as document:
        (page,) = [each for each in document.pages if each.extract_text().startswith("Registration")]
        spans = [
            ((thing["x1"] - thing["x0"]) * MM, (thing["bottom"] - thing["top"]) * MM)
            for thing in [*page.rects, *page.curves]
        ]
    assert any(abs(w - 20) < 0.01 and abs(h - 20) < 0.01 for w, h in spans)
    assert any(abs(w - 20) < 0.01 and abs(h - 8) < 0.01 for w, h in spans)


def test_the_same_print_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        write_packet(tmp_path / name, make_packet(sample()))
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_a_folder_that_is_not_there_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"packet\.pdf cannot be written"):
        write_packet(tmp_path / "nowhere" / "packet.pdf", make_packet(sample()))

"""The job sheet read by a reader of others: one page, the zero in its corner, nothing it cannot know."""

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pdfplumber
import pytest
from routed_face import BITS, STEP_MM, routed_face

from blockwright.documents.job_sheet import JobSheet, write_job_sheet
from blockwright.documents.paper import PaperName
from blockwright.documents.relief import paint_relief
from blockwright.model.errors import FolderError

MM = 25.4 / 72
"""One PDF unit in mm (ISO 32000-1, 8.3.2.3)."""

FILES = (
    ("A-front-1.ngc", "program, 6 mm flat"),
    ("A-front-air.ngc", "the same above the work: run it first"),
    (
        "A-front-heights.png",
        "One pixel is 0.1 mm; white is the face, black is 4 mm below it, in 65535 even steps.",
    ),
)


@cache
def job() -> JobSheet:
    made = routed_face()
    relief = paint_relief(
        made.heights, made.blocks, made.face, made.cut, step_mm=STEP_MM, width_px=800, named=False
    )
    return JobSheet(
        title="Tide mill at low water",
        blocks=made.blocks,
        face=made.face,
        cut=made.cut,
        bits=BITS,
        relief=relief,
        wall_deg=60.0,
        least_mm=1.5,
        most_mm=4.5,
        mark_mm=0.2,
        files=FILES,
    )


def words_of(path: Path, *, right: bool = False) -> str:
    """All words of the one page, or those of the right half of it, line by line."""
    with pdfplumber.open(path) as pdf:
        (page,) = pdf.pages
        assert max(char["bottom"] for char in page.chars) < page.height - 8.0 / MM
        assert max(char["x1"] for char in page.chars) < page.width - 14.0 / MM
        part = page.crop((page.width / 2, 0, page.width, page.height)) if right else page
        return " ".join(part.extract_text(x_tolerance=1.5).split())


def test_it_says_what_the_shop_needs(tmp_path: Path) -> None:
    assert write_job_sheet(tmp_path / "job.pdf", job()) == 1
    words = words_of(tmp_path / "job.pdf")
    for needed in (
        "Tide mill at low water",
        "job sheet for the router · A front",
        "106 × 82 mm",
        "lower left corner of the block",
        "lean outwards, 60° from the face",
        "T1 6 mm flat clearing 16000 2400 600 4120 11",
        "T3 60 degree V, 6 mm walls 18000 1200 400 8630 5.1",
        "25 minutes in all",
        "Do not touch the printing surface",
        "The marks to 0.1 mm",
        "A-front-air.ngc",
        "telephone",
        "Wood dust.",
        "the machine’s manual",
    ):
        assert needed in words, needed
    assert re.search(r"1\.5 to 4\.5 mm; deepest here 3\.10 mm", words)


def test_bits_that_are_held_and_those_not_needed_are_told_below_the_table(tmp_path: Path) -> None:
    routing = job().cut.routing
    assert routing is not None
    held = "6 mm flat could be fed 6020 mm a minute, bench router does 3000 at most."
    work = tuple(replace(each, held=held) for each in routing.work[:2]) + routing.work[2:]
    told = replace(job(), cut=replace(job().cut, routing=replace(routing, work=work, idle=("12 mm flat",))))
    write_job_sheet(tmp_path / "job.pdf", told)
    words = words_of(tmp_path / "job.pdf")
    assert "Not needed on this face: 12 mm flat." in words
    assert words.count(held) == 1
    write_job_sheet(tmp_path / "job.pdf", job())
    assert "Not needed" not in words_of(tmp_path / "job.pdf")


def test_it_never_says_that_a_program_is_safe(tmp_path: Path) -> None:
    write_job_sheet(tmp_path / "job.pdf", job())
    words = words_of(tmp_path / "job.pdf").lower()
    assert "safe" not in words
    assert "nothing else was checked" in words


def test_a_program_that_is_held_back_is_said_to_be(tmp_path: Path) -> None:
    routing = job().cut.routing
    assert routing is not None
    held = replace(job(), cut=replace(job().cut, routing=replace(routing, held_back=True, gouge_mm2=2.5)))
    write_job_sheet(tmp_path / "job.pdf", held)
    words = words_of(tmp_path / "job.pdf", right=True)
    assert "No program is in this folder: they would cut 2.50 mm² of the wood that stays" in words
    assert "touched nowhere" not in words


def test_the_zero_is_drawn_on_the_lower_left_corner(tmp_path: Path) -> None:
    write_job_sheet(tmp_path / "job.pdf", job())
    with pdfplumber.open(tmp_path / "job.pdf") as pdf:
        page = pdf.pages[0]
        (picture,) = page.images
        discs = [
            each
            for each in page.curves
            if each["stroke"] and (each["x1"] - each["x0"]) * MM == pytest.approx(4.0, abs=0.02)
        ]
    assert (picture["x1"] - picture["x0"]) / (picture["bottom"] - picture["top"]) == pytest.approx(
        106 / 82, rel=1e-3
    )
    (disc,) = discs
    assert (disc["x0"] + disc["x1"]) / 2 == pytest.approx(picture["x0"], abs=0.01)
    assert (disc["top"] + disc["bottom"]) / 2 == pytest.approx(picture["bottom"], abs=0.01)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_much_to_say_stays_on_one_page(tmp_path: Path, paper: PaperName) -> None:
    routing = job().cut.routing
    assert routing is not None
    much = replace(
        job(),
        title="A title that goes on and on, as the titles of long poems do, until it meets the other words",
        files=tuple((f"A-front-{k}-with-a-long-name.ngc", "program " * 9) for k in range(40)),
        cut=replace(job().cut, routing=replace(routing, work=routing.work * 2)),
    )
    write_job_sheet(tmp_path / "job.pdf", much, paper=paper)
    assert "and 26 more files." in words_of(tmp_path / "job.pdf")


def test_wrong_use_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="A front is not routed"):
        write_job_sheet(tmp_path / "job.pdf", replace(job(), cut=replace(job().cut, routing=None)))
    with pytest.raises(FolderError, match=r"job\.pdf cannot be written"):
        write_job_sheet(tmp_path / "nowhere" / "job.pdf", job())


def test_the_same_job_gives_the_same_bytes(tmp_path: Path) -> None:
    write_job_sheet(tmp_path / "one.pdf", job())
    write_job_sheet(tmp_path / "two.pdf", replace(job(), relief=np.array(job().relief)))
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_a_block_that_lies_turned_is_drawn_as_it_lies(tmp_path: Path) -> None:
    """106 mm across and 82 high as it is carved; turned to the left the kagi comes to the upper right."""
    routing = job().cut.routing
    assert routing is not None
    turned = replace(job(), cut=replace(job().cut, routing=replace(routing, quarter_turn=True)))
    places = []
    for name, sheet in (("plain", job()), ("turned", turned)):
        write_job_sheet(tmp_path / f"{name}.pdf", sheet)
        with pdfplumber.open(tmp_path / f"{name}.pdf") as pdf:
            (page,) = pdf.pages
            (picture,) = page.images
            # The drawing stands before all that tells of it.
            words = {word["text"]: word for word in reversed(page.extract_words(x_tolerance=1.5))}
            places.append((picture["width"] / picture["height"], words, picture))
    (wide, plain_words, plain), (high, turned_words, there) = places
    assert wide == pytest.approx(106.0 / 82.0, rel=1e-3)
    assert high == pytest.approx(82.0 / 106.0, rel=1e-3)
    for words, picture, upper in ((plain_words, plain, False), (turned_words, there, True)):
        middle = (picture["x0"] + picture["x1"]) / 2, (picture["top"] + picture["bottom"]) / 2
        assert words["kagi"]["x0"] > middle[0]
        assert (words["kagi"]["top"] < middle[1]) is upper
        # The zero is the lower left corner of what is drawn, with x along its lower edge.
        assert words["x"]["top"] < picture["bottom"] < words["x"]["bottom"] + 8.0
        assert words["y"]["x0"] - picture["x0"] < 12.0
    text = words_of(tmp_path / "turned.pdf", right=True)
    assert "lay the block down turned by a quarter to the left, as drawn" in text
    assert "turned by a quarter" not in words_of(tmp_path / "plain.pdf")


def test_what_else_stops_the_work_is_not_told_as_a_cut_into_the_face(tmp_path: Path) -> None:
    routing = job().cut.routing
    assert routing is not None
    held = replace(routing, held_back=True, gouge_mm2=0.0)
    write_job_sheet(tmp_path / "job.pdf", replace(job(), cut=replace(job().cut, routing=held)))
    text = words_of(tmp_path / "job.pdf", right=True)
    assert "No program is in this folder: what was found stops it; see the packet." in text
    assert "would cut" not in text

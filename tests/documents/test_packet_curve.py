"""The packet's pages on overprints: the curve with the point that was taken, and what lies over what."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pypdfium2
import pytest
from sample_print import COLOURS, SamplePrint, make_packet, make_print
from test_packet import assert_well_set, texts_of

from blockwright.documents import Packet, write_packet
from blockwright.model.separation import CurvePoint, LiesOver, OtherLight, OutOfReach, Overprints

NAMES = [name for name, _ in COLOURS]


@cache
def sample() -> SamplePrint:
    return make_print()


def point(blocks: int, *, beside: int = 4) -> CurvePoint:
    """A point of a curve on which the difference falls by a third with every block."""
    worst = 9.0 * 0.7 ** (blocks - 4)
    return CurvePoint(
        blocks=blocks,
        impressions=blocks + 1,
        all_blocks=blocks + beside,
        all_impressions=blocks + beside + 2,
        median_delta_e00=0.4 * worst,
        max_delta_e00=worst,
        reached_max_delta_e00=worst,
        edge_mm=21000.0 - 300.0 * blocks,
        within=worst <= 3.0,
        proven=blocks == 8,
    )


def lies(number: int, *, known: bool = True) -> LiesOver:
    inks = ("pale ochre", "light bluish grey beneath", "dusk blue")[: 2 + number % 2]
    lights = (OtherLight("A", 2.0 + number), OtherLight("FL11", 1.25)) if known else ()
    return LiesOver(NAMES[number % len(NAMES)], inks, "pale ochre", 1.5, lights)


def overprints(count: int = 12, colours: int = 6, **changes: object) -> Overprints:
    found = Overprints(
        colours=14,
        blocks=8,
        curve=tuple(point(blocks) for blocks in range(4, 4 + count)),
        lies_over=tuple(lies(k) for k in range(colours)),
        lower_bound=4,
        tried_bound=8,
        tried=35,
        proven=True,
    )
    return replace(found, **changes)  # type: ignore[arg-type]


def packet(found: Overprints, paper: str = "A4") -> Packet:
    made = make_packet(sample(), paper=paper)
    return replace(made, separation=replace(made.separation, overprints=found))


def pages(tmp_path: Path, found: Overprints, paper: str = "A4") -> list[str]:
    """The text of the pages on overprints."""
    path = tmp_path / "packet.pdf"
    write_packet(path, packet(found, paper))
    assert_well_set(path)
    return [text for text in texts_of(path) if text.startswith(("Blocks against colour error", "Overprints"))]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_curve_is_a_paragraph_a_plot_and_a_table(tmp_path: Path, paper: str) -> None:
    curve, over = pages(tmp_path, overprints(), paper)
    assert curve.startswith("Blocks against colour error 12 blocks, 14 impressions")
    assert "8 blocks print the 14 flat colours, the worst colour within 2.2 of the design" in curve
    assert "4 more blocks are carved for line work." in curve
    assert "Proven: of the 35 inks tried, as they are mixed, no fewer can; and fewer than 4 cannot" in curve
    assert "blocks of the whole print" in curve
    assert "limit 3" in curve
    assert "8 12 14 0.9 2.2 18.6 taken" in curve
    assert "7 11 13 1.2 3.1 18.9 beyond the limit" in curve
    assert "far shore pale ochre, then light bluish grey beneath, then dusk blue 1.5 3.0 1.2" in over


def test_what_is_not_proven_and_what_is_out_of_reach_is_said(tmp_path: Path) -> None:
    far = OutOfReach("tide green", best_delta_e00=7.25, delta_e00=7.4, tried=22)
    curve = tuple(replace(point(blocks), max_delta_e00=7.4) for blocks in range(4, 16))
    found = overprints(proven=False, tried_bound=6, out_of_reach=(far,), curve=curve)
    text, _ = pages(tmp_path, found)
    assert (
        "Not proven to be the fewest: of the 35 inks tried, as they are mixed, at least 6 are needed" in text
    )
    assert "Out of reach of the inks at hand is tide green: 7.4 off, and no nearer than 7.2" in text
    assert "worst colour within reach" in text


def test_a_long_curve_shows_the_rows_about_the_one_that_was_taken(tmp_path: Path) -> None:
    text, _ = pages(tmp_path, overprints(count=40, blocks=30))
    assert "30 34 36" in text
    assert "taken" in text
    assert "The other numbers of blocks are in separation.json." in text


def test_many_overprints_go_on_over_the_page_and_unknown_lights_stay_empty(tmp_path: Path) -> None:
    _, *over = pages(tmp_path, overprints(colours=60))
    assert len(over) > 1
    assert sum(text.count("pale ochre, then") for text in over) == 60
    plain = overprints(lies_over=(lies(0, known=False),))
    _, only = pages(tmp_path, plain)
    assert "evening blush pale ochre, then light bluish grey beneath 1.5 " in only


def test_one_block_a_colour_has_no_such_page(tmp_path: Path) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, make_packet(sample()))
    assert not [text for text in texts_of(path) if "Blocks against colour error" in text]
    write_packet(path, packet(overprints(lies_over=())))
    assert not [text for text in texts_of(path) if text.startswith("Overprints")]


def test_the_point_that_was_taken_is_ringed(tmp_path: Path) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, packet(overprints()))
    document = pypdfium2.PdfDocument(path)
    number = next(
        k for k, text in enumerate(texts_of(path)) if text.startswith("Blocks against colour error")
    )
    pixels = document[number].render(scale=2.0).to_numpy()[..., ::-1].astype(int)
    document.close()
    red = (pixels[..., 0] - pixels[..., 1] > 60) & (pixels[..., 0] - pixels[..., 2] > 60)
    assert red.sum() > 200

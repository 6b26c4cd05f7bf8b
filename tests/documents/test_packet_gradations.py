"""The inking guides: one page a gradation, the lines where full colour and the ink end."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from sample_print import make_packet, make_print
from test_packet import assert_well_set, texts_of

from blockwright.documents import Packet, write_packet
from blockwright.documents.packet_gradations import line_at
from blockwright.model.axis import Axis
from blockwright.model.gradation_words import gradation_sentence
from blockwright.model.separation import Gradation

DOWN = Axis((60.0, 0.0), (60.0, 50.0))
ROUND = Axis((10.0, 40.0), (10.0, 60.0), ((0.0, 40.0), (60.0, 30.0), (120.0, 40.0)), 0.0, 20.0)


def _graded(*gradations: Gradation) -> Packet:
    packet = make_packet(make_print())
    impressions = list(packet.separation.impressions)
    for k, gradation in enumerate(gradations):
        impressions[k] = replace(impressions[k], gradation=gradation)
    return replace(packet, separation=replace(packet.separation, impressions=tuple(impressions)))


def test_every_gradation_has_its_guide_and_its_sentence(tmp_path: Path) -> None:
    plain, graded = tmp_path / "plain.pdf", tmp_path / "graded.pdf"
    pages = write_packet(plain, make_packet(make_print()))
    sky = Gradation("fukisage", DOWN, (1.0, 0.5, 0.0))
    glow = Gradation("atenashi", ROUND, (1.0, 0.2))
    packet = _graded(sky, glow)
    assert write_packet(graded, packet) == pages + 2
    texts = texts_of(graded)
    assert_well_set(graded)
    guides = [text for text in texts if "Inking guide" in text]
    assert len(guides) == 2
    size = {"width_mm": packet.design.width_mm, "height_mm": packet.design.height_mm}
    for guide, gradation in zip(guides, (sky, glow), strict=True):
        said = gradation_sentence(gradation, **size)
        assert said[1:] in " ".join(guide.split())
        assert "On the block" in guide
        assert "On the print" in guide
    assert "does not run out" in guides[1]
    order = " ".join(" ".join(text.split()) for text in texts if "Printing order" in text)
    assert gradation_sentence(sky, **size).capitalize() in order


def test_the_guide_is_the_same_every_time(tmp_path: Path) -> None:
    packet = _graded(Gradation("fukisage", DOWN, (1.0, 0.0)))
    for name in ("one.pdf", "two.pdf"):
        write_packet(tmp_path / name, packet)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_round_a_point_the_lines_are_circles() -> None:
    sun = Axis((50.0, 20.0), (50.0, 38.0), ((50.0, 40.0),), 20.0, 2.0)
    ring = line_at(sun, 5.0, width_mm=100.0, height_mm=80.0)
    assert ring.length == pytest.approx(2.0 * np.pi * 15.0, rel=1e-3)
    # Beyond the image nothing is drawn.
    low = line_at(replace(sun, edge=((50.0, 75.0),)), 0.0, width_mm=100.0, height_mm=80.0)
    assert low.bounds[3] == pytest.approx(80.0)


def test_a_line_is_square_to_the_axis_or_off_its_edge() -> None:
    aslant = line_at(Axis((0.0, 0.0), (30.0, 40.0)), 25.0, width_mm=100.0, height_mm=80.0)
    assert shapely.distance(aslant, shapely.Point(15.0, 20.0)) == pytest.approx(0.0, abs=1e-9)
    (x1, y1), (x2, y2) = aslant.coords
    assert (x2 - x1) * 3 + (y2 - y1) * 4 == pytest.approx(0.0, abs=1e-6)
    away = line_at(ROUND, 10.0, width_mm=120.0, height_mm=80.0)
    places = shapely.get_coordinates(away)
    off = shapely.distance(shapely.points(places), shapely.linestrings(ROUND.edge))
    assert off == pytest.approx(10.0, abs=0.05)

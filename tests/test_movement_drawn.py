"""Everything that is cut is drawn for what will move: measured in the files, from the print's folder on."""

import json
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from numpy.typing import NDArray

from blockwright import project
from blockwright.decisions import parse
from blockwright.model.errors import SettingsError
from tiny_print import decide, set_value

PLANK = """[[blocks.stock]]
name = "plank"
wood = "cherry"
width_mm = 200.0
height_mm = 150.0
thickness_mm = 20.0"""


def _told(folder: Path) -> Any:
    return json.loads((folder / "out" / "blocks" / "blocks.json").read_text(encoding="utf-8"))


def _points(folder: Path, layer: str) -> NDArray[np.float64]:
    """All points of a layer of the first face's outlines, in the order of the file, read by ezdxf."""
    drawing = ezdxf.readfile(folder / "out" / "cutting" / "A-front.dxf")
    lines = drawing.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return np.array([point[:2] for line in lines for point in line.get_points("xy")])


def test_the_outlines_are_scaled_from_the_kagi_and_the_marks_are_not(made_print: Path) -> None:
    """Flat-sawn cherry from 9 to 13 %, Wood Handbook table 13-5: 0.992 % across; the sheet 0.14 % wide."""
    decide(made_print, end=PLANK)
    set_value(made_print, "hikitsuke_at", "0.667")
    project.make(made_print, upto="cutting")
    before, marks = _points(made_print, "PRINTING"), _points(made_print, "MARKS")
    decide(made_print, blocks="carving_moisture_percent = 9.0\nprinting_moisture_percent = 13.0")
    project.make(made_print, upto="cutting")
    assert np.array_equal(_points(made_print, "PRINTING"), before)
    set_value(made_print, "compensate", "true")
    project.make(made_print, upto="cutting")
    after = _points(made_print, "PRINTING")
    kagi = marks[np.argmin(np.hypot(*(marks - [marks[:, 0].max(), marks[:, 1].min()]).T))]
    assert np.array_equal(_points(made_print, "MARKS"), marks)
    assert after == pytest.approx(kagi + (before - kagi) * [1.0014, 1 / 1.00992], abs=1.2e-3)
    figures = _told(made_print)["figures"]
    assert figures["largest_corner_before_mm"] > 0.4
    assert figures["largest_corner_mm"] == 0.0
    for corner in ("upper_left", "upper_right", "lower_left", "lower_right"):
        assert figures[f"corner_{corner}_mm"] == 0.0


def test_the_figures_are_told_with_their_units(made_print: Path) -> None:
    decide(made_print, end=PLANK, blocks="carving_moisture_percent = 9.0\nprinting_moisture_percent = 13.0")
    project.make(made_print, upto="blocks")
    told = _told(made_print)
    figures, movement = told["figures"], told["movement"]
    assert figures["carving_moisture_percent"] == 9.0
    assert figures["movement_mm"] == pytest.approx(45.0 * 0.00992, abs=1e-6)
    assert figures["paper_growth_width_mm"] == pytest.approx(0.084)
    corners = [f"corner_{up}_{side}_mm" for up in ("upper", "lower") for side in ("left", "right")]
    assert figures["largest_corner_mm"] == max(figures[each] for each in corners)
    assert figures["corner_lower_left_mm"] == min(figures[each] for each in corners) > 0.0
    assert figures["largest_mutual_mm"] == figures["largest_mutual_before_mm"] == 0.0
    assert [each["reckoned_as"] for each in movement["boards"]] == ["black cherry"] * len(told["boards"])
    for each in movement["impressions"]:
        assert [c["corner"] for c in each["corners"]] == [
            "upper left",
            "upper right",
            "lower left",
            "lower right",
        ]
    assert movement["apart_left"] is None


def test_the_usual_settings_move_no_wood_and_scale_nothing(made_print: Path) -> None:
    told = _told(made_print)
    assert told["figures"]["movement_mm"] == 0.0
    assert told["movement"]["compensated"] is False
    scales = {
        each[f"scale_{side}"] for each in told["movement"]["impressions"] for side in ("width", "height")
    }
    assert scales == {1.0}


@pytest.mark.parametrize(
    ("line", "allowed"),
    [
        ("carving_humidity_percent = 3.0", "5 to 95 percent"),
        ("printing_humidity_percent = 120", "5 to 95 percent"),
        ("printing_temperature_c = -40.0", "0 to 60 °C"),
        ("carving_moisture_percent = 60.0", "2 to 28 percent"),
        ('printing_moisture_percent = "wet"', "2 to 28 percent"),
        ("paper_growth_percent = 9.0", "-2 to 5 percent"),
        ('paper_grows = "diagonal"', '"width" or "height"'),
        ("compensate = 1", "true or false"),
        ("unknown_wood_percent = -0.1", "0 to 1 percent"),
        ("register_alarm_mm = 0.0", "0.01 to 5 mm"),
        (PLANK.replace("thickness_mm = 20.0", 'thickness_mm = 20.0\ncut = "rift sawn"'), '"flat sawn" or'),
        (PLANK + "\nmoves_percent = 3.0", "0 to 1 percent"),
    ],
)
def test_what_is_no_air_no_wood_and_no_paper_is_refused_in_a_sentence(line: str, allowed: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse(f"[print]\nwidth_mm = 300.0\n[blocks]\n{line}\n")
    message = str(caught.value)
    assert message.startswith("print.toml: [")
    assert allowed in message
    assert message.endswith(".")
    assert "\n" not in message

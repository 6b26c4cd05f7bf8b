"""Blocks and overprints at the station Impressions: the curve, what lies over what, and its acts."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from asked_app import AskedApp

from blockwright.deciding import AddOverprint, SetValue
from blockwright.decisions import read_decisions
from blockwright.history import decide
from blockwright.model.separation import CurvePoint
from blockwright.project import make
from blockwright.web import words
from tiny_print import IN_BLUE, IN_OCHRE

AS_PART = {"HX-Request": "true"}


class Opened:
    """A tiny print in an app, its blocks the fewest."""

    def __init__(self, asked: AskedApp, folder: Path) -> None:
        self.asked, self.folder = asked, folder
        self.id = asked.desk.registry.add(folder)

    def page(self, of: str = "") -> str:
        asked = f"/print/{self.id}/impressions" + (f"?of={of}" if of else "")
        return str(self.asked.browser.get(asked).text)

    def decide(self, **fields: Any) -> int:
        answer = self.asked.browser.post(f"/print/{self.id}/decide", headers=AS_PART, data=fields)
        return int(answer.status_code)


@pytest.fixture
def fewest(tmp_path: Path, made_print: Path) -> Iterator[Opened]:
    decide(made_print, SetValue("separation", "blocks", "fewest"))
    decide(made_print, SetValue("separation", "worst_delta_e00", 30.0))
    decide(made_print, SetValue("separation", "limit_delta_e00", 20.0))
    make(made_print, upto="separation")
    asked = AskedApp(tmp_path / "home")
    yield Opened(asked, made_print)
    asked.desk.holding.let_all_go()


def _told(folder: Path) -> dict[str, Any]:
    text = (folder / "out" / "separation" / "separation.json").read_text(encoding="utf-8")
    told: dict[str, Any] = json.loads(text)
    return told


def test_the_curve_is_a_table_to_choose_from(fewest: Opened) -> None:
    told = _told(fewest.folder)
    blocks = [each["blocks"] for each in told["curve"]]
    assert blocks[-1] == 3
    assert told["overprints"]["blocks"] == told["figures"]["blocks_needed"] == blocks[0] == 2
    assert set(told["curve"][0]) == set(CurvePoint.__dataclass_fields__)
    page = fewest.page()
    assert re.findall(r'id="take-(\d+)" aria-pressed="(\w+)"', page) == [("2", "true"), ("3", "false")]
    assert words.curve_caption in page
    # The tiny print has a key, which the search does not count.
    for point in told["curve"]:
        extra = told["figures"]["blocks_needed"] - told["overprints"]["blocks"]
        assert point["all_blocks"] == point["blocks"] + extra
        row = page[page.index(f'id="take-{point["blocks"]}"') :].partition("</tr>")[0]
        numbers = re.findall(r'<td class="number">(\d+)<span class="beside"> [(](\d+)[)]</span></td>', row)
        assert numbers == [(str(point["all_blocks"]), str(point["all_impressions"]))]
    assert words.curve_all_why in page
    assert fewest.decide(act="set-value", table="separation", key="block_count", value="3") == 204
    assert read_decisions(fewest.folder).separation.block_count == 3
    make(fewest.folder, upto="separation")
    page = fewest.page()
    assert re.findall(r'id="take-(\d+)" aria-pressed="(\w+)"', page) == [("2", "false"), ("3", "true")]
    assert words.curve_fewest in page
    assert fewest.decide(act="set-value", table="separation", key="block_count", value="") == 204
    assert read_decisions(fewest.folder).separation.block_count is None


def test_the_drawing_of_the_curve_is_a_file_that_can_be_read(fewest: Opened) -> None:
    drawing = ElementTree.parse(fewest.folder / "out" / "separation" / "curve.svg").getroot()
    assert "2 are taken" in drawing.attrib["aria-label"]
    circles = [each for each in drawing.iter() if each.tag.endswith("circle")]
    assert len(circles) == len(_told(fewest.folder)["curve"]) + 1


def test_what_lies_over_what_is_said_and_forbidden(fewest: Opened) -> None:
    (lies,) = _told(fewest.folder)["overprints"]["lies_over"]
    page = fewest.page(lies["inks"][-1])
    said = words.fmt("lies_over_one", colour=words.opening(lies["colour"]), under=lies["over"])
    assert said in page
    assert words.lies_forbid in page
    assert words.fmt("beneath_others", names=lies["colour"]) in fewest.page(lies["inks"][0])
    at, over = (",".join(map(str, place)) for place in (IN_BLUE, IN_OCHRE))
    assert fewest.decide(act="add-overprint", at=at, over=over, lies="yes") == 204
    assert fewest.decide(act="add-overprint", at=at, over=over, lies="") == 204
    (edit,) = read_decisions(fewest.folder).separation.overprint
    assert (edit.at, edit.over, edit.lies) == (IN_BLUE, IN_OCHRE, False)
    page = fewest.page()
    assert "does not lie over" in page
    assert fewest.decide(act="take-back", table="separation", key="overprint", index="0") == 204
    assert read_decisions(fewest.folder).separation.overprint == ()


def test_a_print_without_a_search_offers_it(tmp_path: Path, made_print: Path) -> None:
    asked = AskedApp(tmp_path / "home")
    opened = Opened(asked, made_print)
    page = opened.page()
    assert words.overprints_head in page
    assert 'id="curve-table"' not in page
    told = _told(made_print)
    assert (told["curve"], told["overprints"]) == ([], None)
    asked.desk.holding.let_all_go()


def test_what_is_decided_is_told() -> None:
    assert AddOverprint((1.0, 2.0), (3.5, 4.0), True).told() == (
        "print the colour at 1, 2 over the colour at 3.5, 4"
    )
    assert "but not over" in AddOverprint((1.0, 2.0), (3.5, 4.0), False).told()

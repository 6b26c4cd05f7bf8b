"""Shapes that are printed by an impression of their own, at the stations Design and Impressions."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from asked_app import AskedApp
from PIL import Image, ImageDraw

from blockwright.deciding.acts import AddSplit
from blockwright.decisions import read_decisions
from blockwright.project import make
from blockwright.web import words
from tiny_print import BLUE, OCHRE, PAPER, create_tiny, decide

AS_PART = {"HX-Request": "true"}
NEAR, FAR, BAR = (10.0, 22.0), (50.0, 22.0), (30.0, 22.0)
"""A place in mm in either ochre and in the blue between them."""


class Opened:
    """A print of two ochres apart and a blue bar, in an app."""

    def __init__(self, asked: AskedApp, folder: Path) -> None:
        self.asked, self.folder = asked, folder
        self.id = asked.desk.registry.add(folder)

    def page(self, station: str) -> str:
        return str(self.asked.browser.get(f"/print/{self.id}/{station}").text)

    def decide(self, **fields: str) -> int:
        answer = self.asked.browser.post(f"/print/{self.id}/decide", headers=AS_PART, data=fields)
        return int(answer.status_code)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Opened]:
    picture = Image.new("RGB", (160, 120), PAPER)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((10, 20, 50, 100), fill=OCHRE)
    draw.rectangle((70, 20, 90, 100), fill=BLUE)
    draw.rectangle((110, 20, 150, 100), fill=OCHRE)
    picture.save(tmp_path / "ochres.png")
    create_tiny(tmp_path / "ochres", tmp_path / "ochres.png")
    decide(tmp_path / "ochres", design="colours = 3")
    make(tmp_path / "ochres", upto="separation")
    asked = AskedApp(tmp_path / "home")
    yield Opened(asked, tmp_path / "ochres")
    asked.desk.holding.let_all_go()


def _at(place: tuple[float, float]) -> str:
    return f"{place[0]},{place[1]}"


def test_a_shape_is_split_off_where_it_is_chosen_and_taken_back(opened: Opened) -> None:
    page = opened.page(f"design?at={_at(FAR)}")
    assert words.split_lead in page
    (at,) = re.findall(r'value="add-split"><input type="hidden" name="at" value="([^"]+)"', page)
    assert opened.decide(act="add-split", at=at, name="far shore") == 204
    assert opened.decide(act="add-split", at=at, name="") == 204
    (edit,) = read_decisions(opened.folder).separation.split
    assert (_at(edit.at), edit.name) == (at, None)
    said = words.fmt("edit_split", at=f"{edit.at[0]:.0f}, {edit.at[1]:.0f}")
    for station in ("design", "impressions"):
        assert said in opened.page(station)
    assert opened.decide(act="take-back", table="separation", key="split", index="0") == 204
    assert read_decisions(opened.folder).separation.split == ()
    assert words.splits_head not in opened.page("impressions")


def test_the_only_shape_of_a_colour_is_not_offered_to_be_split(opened: Opened) -> None:
    assert words.split_lead not in opened.page(f"design?at={_at(BAR)}")


def test_the_impressions_tell_what_was_split_off_what(opened: Opened) -> None:
    assert opened.decide(act="add-split", at=_at(FAR), name="far shore") == 204
    make(opened.folder, upto="separation")
    page = opened.page("impressions?of=far+shore")
    names = re.findall(r'data-name="([^"]+)"', page)
    assert len(names) == 3
    source = names[names.index("far shore") - 1]
    assert words.fmt("split_from_one", source=source) in page
    assert words.fmt("split_off", names="far shore") in opened.page(f"impressions?of={source}")
    assert words.fmt("edit_split_called", at="50, 22", name="far shore") in page


def test_what_is_decided_next_is_shown_before_it_is_worked_out(opened: Opened) -> None:
    assert opened.decide(act="add-split", at=_at(FAR), name="far shore") == 204
    make(opened.folder, upto="separation")
    names = re.findall(r'data-name="([^"]+)"', opened.page("impressions"))
    source = names[names.index("far shore") - 1]
    other = next(name for name in names if name not in {source, "far shore"})

    def times(of: str) -> list[str]:
        chosen = re.search(r'<select id="times".*?</select>', opened.page(f"impressions?of={of}"), re.S)
        assert chosen is not None
        return re.findall(r'value="(\d)" selected', chosen[0])

    assert opened.decide(act="set-passes", colour=source, times="2") == 204
    assert (times("far shore"), times(source), times(other)) == (["2"], ["2"], ["1"])
    assert opened.decide(act="set-passes", colour="far shore", times="3") == 204
    assert (times("far shore"), times(source)) == (["3"], ["2"])
    assert opened.decide(act="set-order", name=other) == 204
    assert re.findall(r'data-name="([^"]+)"', opened.page("impressions")) == [other, source, "far shore"]
    assert opened.decide(act="set-order", names=f'["far shore", "{other}"]') == 204
    shown = re.findall(r'data-name="([^"]+)"', opened.page("impressions"))
    assert shown == ["far shore", other, source]
    make(opened.folder, upto="separation")
    assert re.findall(r'data-name="([^"]+)"', opened.page("impressions")) == shown


def test_what_is_decided_is_told() -> None:
    said = "print the shape at 1, 2.5 by an impression of its own"
    assert AddSplit((1.0, 2.5)).told() == said
    assert AddSplit((1.0, 2.5), "boat blue").told() == f'{said}, "boat blue"'

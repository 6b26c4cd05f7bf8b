"""Hand edits keyed by a place in mm."""

import numpy as np
import pytest
import shapely

from blockwright.design.colours import Colours
from blockwright.design.edits import apply_edits
from blockwright.geometry.coverage import Coverage, check_coverage
from blockwright.model.settings import DesignTable

HEXES = ("#f0e0c0", "#305080", "#b04030")


def _row() -> Coverage:
    """Six squares in a row, 2 x 2 mm, colours 0 1 0 2 0 1."""
    boxes = np.array([shapely.box(2 * k, 0, 2 * k + 2, 2) for k in range(6)])
    return Coverage(boxes, np.array([0, 1, 0, 2, 0, 1], np.uint8))


def _edit(**tables: object):  # type: ignore[no-untyped-def]
    settings = DesignTable.model_validate(tables, strict=False)
    return apply_edits(_row(), Colours.unnamed(HEXES), settings, paper_hex="#ffffff")


def _whole(coverage: Coverage) -> None:
    check = check_coverage(coverage.polygons, width_mm=12.0, height_mm=2.0)
    assert check.valid
    assert check.gap_mm2 == check.overlap_mm2 == 0.0


def test_without_edits_nothing_changes() -> None:
    edited = _edit()
    assert edited.coverage.labels.tolist() == [0, 1, 0, 2, 0, 1]
    assert edited.colours.hexes == HEXES
    assert edited.findings == ()


def test_drop_gives_the_place_to_a_neighbour() -> None:
    edited = _edit(drop=[{"at": (7.0, 1.0)}])
    assert 2 not in edited.coverage.labels
    assert len(edited.coverage.polygons) == 4
    _whole(edited.coverage)


def test_merge_takes_one_shape_or_the_whole_colour() -> None:
    one = _edit(merge=[{"at": (3.0, 1.0), "into": (1.0, 1.0)}])
    assert one.coverage.labels.tolist().count(1) == 1
    assert len(one.coverage.polygons) == 4
    every = _edit(merge=[{"at": (3.0, 1.0), "into": (1.0, 1.0), "everywhere": True}])
    assert 1 not in every.coverage.labels
    _whole(every.coverage)


def test_recolour_takes_the_colour_or_only_the_shape() -> None:
    colour = _edit(recolour=[{"at": (1.0, 1.0), "to": "#AABBCC"}])
    assert colour.colours.hexes == ("#aabbcc", "#305080", "#b04030")
    shape = _edit(recolour=[{"at": (1.0, 1.0), "to": "#aabbcc", "here": True}])
    assert shape.colours.hexes == (*HEXES, "#aabbcc")
    assert shape.coverage.labels.tolist() == [3, 1, 0, 2, 0, 1]
    onto = _edit(recolour=[{"at": (7.0, 1.0), "to": "#F0E0C0"}])
    assert 2 not in onto.coverage.labels
    _whole(onto.coverage)


def test_names_and_their_clash() -> None:
    edited = _edit(name=[{"at": (1.0, 1.0), "name": "shell"}, {"at": (3.0, 1.0), "name": "shell"}])
    assert edited.colours.names == ("shell", "", "")
    assert [f.code for f in edited.findings] == ["name-twice"]


@pytest.mark.parametrize(
    ("table", "code"),
    [
        ({"drop": [{"at": (50.0, 1.0)}]}, "edit-misses"),
        ({"merge": [{"at": (1.0, 1.0), "into": (-4.0, 1.0)}]}, "edit-misses"),
        ({"recolour": [{"at": (1.0, 99.0), "to": "#000000"}]}, "edit-misses"),
        ({"name": [{"at": (1.0, 99.0), "name": "x"}]}, "edit-misses"),
        ({"merge": [{"at": (1.0, 1.0), "into": (5.0, 1.0)}]}, "edit-does-nothing"),
        ({"recolour": [{"at": (1.0, 1.0), "to": HEXES[0]}]}, "edit-does-nothing"),
    ],
)
def test_an_edit_that_cannot_be_done_is_a_finding_with_its_place(table: dict[str, object], code: str) -> None:
    edited = _edit(**table)
    (finding,) = edited.findings
    assert finding.code == code
    assert finding.at is not None
    assert finding.about == tuple(("edit", kind) for kind in table)
    assert edited.coverage.labels.tolist() == [0, 1, 0, 2, 0, 1]

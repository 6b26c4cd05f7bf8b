"""The layout of the calibration sheet: nothing stands on anything else, and sheets can be told apart."""

from itertools import combinations

import pytest
import shapely

from blockwright.documents.paper import SHEETS_MM
from blockwright.inks.sheet import (
    BASE,
    DIGITS,
    LEAST_PATCH_MM,
    MARGIN_MM,
    MOST_PLACES,
    digit_of,
    lay_out_sheet,
    page_number,
    plan_sheet,
)
from blockwright.inks.sheet_file import compose_sheet, parse_sheet
from blockwright.model.errors import InkError, SettingsError
from blockwright.model.swatches import RectMm, SwatchPage

A4 = SHEETS_MM["A4"]
MIX = [("rose", 0.3), ("blue", 0.7)]


def area(box: RectMm) -> shapely.Geometry:
    return shapely.box(box[0], box[1], box[0] + box[2], box[1] + box[3])


def pages(inks: int = 4, *, size: tuple[float, float] = A4, **how: bool | int) -> tuple[SwatchPage, ...]:
    return lay_out_sheet(plan_sheet([f"ink {i}" for i in range(inks)], size_mm=size, **how))  # type: ignore[arg-type]


@pytest.mark.parametrize("size", [*SHEETS_MM.values(), (250.0, 353.0), (600.0, 800.0)])
@pytest.mark.parametrize("over_black", [True, False])
def test_nothing_stands_on_anything_else(size: tuple[float, float], over_black: bool) -> None:
    for page in pages(12, size=size, over_black=over_black):
        patches = [area(p.box) for p in page.patches]
        things = [
            *patches,
            *(area(m.box) for m in page.marks),
            *(area(s) for s in page.light_spots),
            *(area(label) for label in page.labels),
            area(page.header),
            area(page.footer),
        ]
        assert (
            all(not one.intersects(other) for one, other in combinations(things, 2) if one is not other)
            or [(a.bounds, b.bounds) for a, b in combinations(things, 2) if a.intersection(b).area > 0] == []
        )
        printable = shapely.box(MARGIN_MM, MARGIN_MM, size[0] - MARGIN_MM, size[1] - MARGIN_MM)
        assert all(printable.covers(thing) for thing in things)
        assert all(min(p.box[2:]) >= LEAST_PATCH_MM for p in page.patches)
        for band in page.bands:
            for patch in page.patches:
                assert area(band).covers(area(patch.box)) == (patch.ground == "black")
            assert not any(area(band).intersects(area(mark.box)) for mark in page.marks)


def test_every_row_has_every_pass_on_both_grounds_and_codes_are_unique() -> None:
    found = pages(20)
    patches = [patch for page in found for patch in page.patches]
    assert len(found) > 1
    assert len({patch.code for patch in patches}) == len(patches)
    for row in range(20):
        own = {(p.ground, p.passes) for p in patches if p.row == row}
        assert own == {(ground, n) for ground in ("paper", "black") for n in (1, 2, 3)}
    for page in found:
        bare = [patch.box for patch in page.patches if patch.kind == "paper"]
        high = max(y for _, y, _, _ in bare) - min(y for _, y, _, _ in bare)
        assert high > 0.4 * page.plan.height_mm or len(page.rows) < 6
        assert sum(patch.kind == "black" for patch in page.patches) == 6


def test_a_lost_corner_takes_no_digit_of_the_number_with_it() -> None:
    for size in (*SHEETS_MM.values(), (700.0, 700.0)):
        (page,) = pages(1, size=size)
        assert len(page.marks) <= MOST_PLACES
        assert [mark.place for mark in page.marks] == list(range(len(page.marks)))
        for corner in range(4):
            left = [mark for mark in page.marks if mark.place != corner]
            assert {mark.place % DIGITS for mark in left} == set(range(DIGITS))
        assert sum(digit_of(page.number, k) * BASE**k for k in range(DIGITS)) == page.number


def test_every_plan_and_page_has_a_number_of_its_own() -> None:
    plans = [
        plan_sheet(["rose"], size_mm=A4),
        plan_sheet(["blue"], size_mm=A4),
        plan_sheet(["rose"], size_mm=SHEETS_MM["Letter"]),
        plan_sheet(["rose"], size_mm=A4, passes=2),
        plan_sheet(["rose"], size_mm=A4, over_black=False),
        plan_sheet(["rose"], size_mm=A4, black_drawn=True),
        plan_sheet(["rose", "blue"], size_mm=A4),
        plan_sheet(["rose", "blue"], [MIX], size_mm=A4),
    ]
    numbers = {page_number(plan, page) for plan in plans for page in range(3)}
    assert len(numbers) == 3 * len(plans)
    assert page_number(plans[0], 0) == page_number(plan_sheet([" rose "], size_mm=A4), 0), (
        "the same every time"
    )


@pytest.mark.parametrize(
    ("inks", "mixes", "how", "message"),
    [
        ([], [], {}, "at least one ink"),
        (["rose", "Rose "], [], {}, "'Rose' is given twice"),
        ([""], [], {}, "has 1 to 60 letters"),
        (["x" * 61], [], {}, "has 1 to 60 letters"),
        (["rose"], [MIX], {}, "'blue' in it, which is no ink of this sheet"),
        (["rose", "blue"], [[("rose", 1.0)]], {}, "is of two inks"),
        (["rose", "blue"], [[("rose", 0.5), ("rose", 0.5)]], {}, "of one ink only"),
        (["rose", "blue"], [[("rose", 0.5), ("blue", 0.6)]], {}, "do not sum to 100 %"),
        (["rose", "blue"], [[("rose", 0.0), ("blue", 1.0)]], {}, "lies between 0 and 100 %"),
        (["rose", "blue"], [MIX, MIX], {}, "is given twice"),
        (["rose"], [], {"passes": 4}, "1 to 3 passes, not 4"),
        (["rose"], [], {"size_mm": (148.0, 210.0)}, "Paper of 148 x 210 mm is too small"),
        ([f"{i}" for i in range(201)], [], {}, "at most 200 rows"),
    ],
)
def test_what_cannot_be_laid_out_is_refused(
    inks: list[str], mixes: list[list[tuple[str, float]]], how: dict[str, object], message: str
) -> None:
    with pytest.raises(SettingsError, match=message):
        plan_sheet(inks, mixes, **{"size_mm": A4, **how})  # type: ignore[arg-type]


# --- sheet.json --------------------------------------------------------------------------------------------


def test_the_description_gives_the_same_layout() -> None:
    found = lay_out_sheet(plan_sheet(["rose", "blue"], [MIX], size_mm=(250.5, 353.0), passes=2))
    assert parse_sheet(compose_sheet(found), file="sheet.json") == found


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        ("{", "[", "it is not JSON"),
        ("calibration sheet", "packet", "is no description of a calibration sheet; give the file"),
        ('"layout": 1', '"layout": 99', "describes layout 99"),
        ("rose", "lilac", "was changed after its sheet was drawn"),
        ('"passes": 3', '"passes": 9', "describes no sheet that can be drawn"),
        ('"passes": 3', '"passes": "many"', "describes no sheet that can be drawn"),
        ('"width_mm": 210.0', '"width_mm": 1e999', "describes no sheet that can be drawn"),
        ('"width_mm": 210.0', '"width_mm": -1', "describes no sheet that can be drawn"),
    ],
)
def test_a_changed_description_is_refused(before: str, after: str, message: str) -> None:
    text = compose_sheet(lay_out_sheet(plan_sheet(["rose"], size_mm=A4)))
    assert before in text
    with pytest.raises(InkError, match=message):
        parse_sheet(text.replace(before, after), file="sheet.json")

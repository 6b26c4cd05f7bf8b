"""What one process worked out for areas serves the next, bit for bit, and nothing else does."""

import io
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import shapely
from drawn import strips, voronoi_coverage
from numpy.typing import NDArray

from blockwright.separation import Notebook, middles, traps
from blockwright.separation.edges import shared_edges
from blockwright.separation.remembering import Remembered, digest, remembered

WORK: tuple[Remembered[..., Any], ...] = (
    traps._half_width_mm,
    traps._band,
    traps._run_under,
    traps._with_traps,
    middles.thin_part,
    middles.side,
    middles.beyond,
)

Regions = NDArray[np.object_]

LINES = np.array(strips(5.0, 0.6, 7.0, 0.9, 5.0, 3.0)), [0, 3, 1, 3, 0, 2]
"""Lines of the key between three inks."""

CELLS = voronoi_coverage(12, 40), [k % 4 for k in range(40)]


@pytest.fixture(autouse=True)
def _another_process() -> Iterator[None]:
    forget()
    yield
    forget()


def forget() -> None:
    """As if this were another process."""
    for each in WORK:
        each.forget()
    middles._diagram.cache_clear()


def done() -> int:
    return sum(each.worked_out for each in WORK)


def drawn(regions: Regions, rank: list[int], notebook: Notebook) -> list[bytes]:
    """The areas of four inks, of which the last is the key's."""
    of = np.array(rank)
    with notebook.open():
        areas = traps.printing_areas(
            regions,
            covers=of == np.arange(4)[:, None],
            rank=of,
            trap_mm=np.full(4, 0.5),
            edges=shared_edges(regions),
            key=traps.KeyShapes(of == 3, 1.5),
        )
    return [area.wkb for area in areas]


@pytest.mark.parametrize("coverage", [LINES, CELLS], ids=["lines", "cells"])
def test_another_process_finds_the_same_areas_without_working_them_out(
    coverage: tuple[Regions, list[int]],
) -> None:
    first = Notebook("code")
    found = drawn(*coverage, first)
    page, before = first.page(), done()
    forget()
    second = Notebook("code", lambda: [page])
    assert drawn(*coverage, second) == found
    assert done() == before
    assert second.page() == page


@pytest.mark.parametrize("coverage", [LINES, CELLS], ids=["lines", "cells"])
def test_after_an_edit_only_what_it_touches_is_worked_out_and_nothing_comes_out_otherwise(
    coverage: tuple[Regions, list[int]],
) -> None:
    regions, rank = coverage
    first = Notebook("code")
    drawn(regions, rank, first)
    all_of_it, page = done(), first.page()
    edited = [1, *rank[1:]]
    forget()
    before, with_page = done(), Notebook("code", lambda: [page])
    found = drawn(regions, edited, with_page)
    touched = done() - before
    forget()
    before, alone = done(), Notebook("code")
    assert drawn(regions, edited, alone) == found
    assert 0 < touched < done() - before
    assert all_of_it
    # What is kept of a run does not tell what the process knew from others.
    assert with_page.page() == alone.page()


def test_a_page_does_not_depend_on_what_the_process_remembers() -> None:
    cold = Notebook("code")
    drawn(*LINES, cold)
    drawn(*CELLS, Notebook("code"))
    warm = Notebook("code")
    drawn(*LINES, warm)
    assert warm.page() == cold.page()


@pytest.mark.parametrize("harm", ["other code", "cut short", "one bit", "empty", "no page"])
def test_pages_of_other_code_and_what_is_no_page_count_for_nothing(harm: str) -> None:
    first = Notebook("code")
    found = drawn(*LINES, first)
    page = first.page()
    bits = bytearray(page)
    bits[-len(page) // 3] ^= 1
    spoilt = {
        "other code": page,
        "cut short": page[: len(page) // 2],
        "one bit": bytes(bits),
        "empty": b"",
        "no page": b"no page, but as long as a digest is",
    }[harm]
    forget()
    before = done()
    second = Notebook("other" if harm == "other code" else "code", lambda: [spoilt])
    assert drawn(*LINES, second) == found
    assert done() > before


def test_a_page_carries_nothing_that_runs() -> None:
    """A print folder may come from anywhere: what lies in it is read as numbers only."""
    first = Notebook("code")
    drawn(*LINES, first)
    assert b"pickle" not in first.page()
    forged = np.array([print], dtype=object)
    held = io.BytesIO()
    np.save(held, forged, allow_pickle=True)
    before = done()
    forget()
    drawn(*LINES, Notebook("code", lambda: [digest(b"code") + held.getvalue()]))
    assert done() > before


def test_the_last_results_are_remembered_and_no_more() -> None:
    asked: list[float] = []

    @remembered(2)
    def half(of: float) -> float:
        asked.append(of)
        return of / 2.0

    assert [half(1.0), half(2.0), half(1.0), half(3.0), half(1.0), half(2.0)] == [
        0.5,
        1.0,
        0.5,
        1.5,
        0.5,
        1.0,
    ]
    assert asked == [1.0, 2.0, 3.0, 2.0]
    assert half.worked_out == 4


def test_cells_are_closed_rings_around_their_samples() -> None:
    places = np.array([[0.0, 0.0], [1.0, 0.2], [0.3, 1.1], [2.0, 2.0]])
    cells = middles._voronoi_cells(places)
    assert shapely.is_valid(cells).all()
    assert shapely.contains_xy(cells, places[:, 0], places[:, 1]).all()

"""The fewest faces, against every way of sharing out small prints and against a solver."""

from itertools import combinations, pairwise

import networkx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import LinearConstraint, milp

from blockwright.blocks.colouring import Conflicts, Faces, fewest_faces
from blockwright.blocks.evening import even_out
from blockwright.blocks.fewer import fewer_faces, share_out


def graph(draw: st.DrawFn, size: int) -> tuple[int, ...]:
    masks = [0] * size
    for i, j in combinations(range(size), 2):
        if draw(st.booleans()):
            masks[i] |= 1 << j
            masks[j] |= 1 << i
    return tuple(masks)


@st.composite
def prints(draw: st.DrawFn, most: int = 7) -> Conflicts:
    size = draw(st.integers(0, most))
    mixable = draw(st.integers(0, (1 << size) - 1))
    return Conflicts(graph(draw, size), graph(draw, size), mixable)


def every_way(conflicts: Conflicts) -> int:
    """Place each vertex on each face and on a new one, straight and turned; no bound but the best yet."""
    fewest = len(conflicts.straight)
    faces: list[tuple[int, int]] = []

    def place(vertex: int) -> None:
        nonlocal fewest
        if vertex == len(conflicts.straight):
            fewest = min(fewest, len(faces))
            return
        bit = 1 << vertex
        for k, face in enumerate(list(faces)):
            for turned in (False, True):
                if conflicts.fits(vertex, face, turned=turned):
                    faces[k] = (face[0], face[1] | bit) if turned else (face[0] | bit, face[1])
                    place(vertex + 1)
                    faces[k] = face
        faces.append((bit, 0))
        place(vertex + 1)
        faces.pop()

    place(0)
    return fewest


def check(faces: tuple[tuple[int, int], ...], conflicts: Conflicts) -> None:
    """Every vertex stands once, and no two that may not share a face do."""
    everyone = [v for straight, turned in faces for v in bits(straight) + bits(turned)]
    assert sorted(everyone) == list(range(len(conflicts.straight)))
    for straight, turned in faces:
        for alike in (straight, turned):
            assert not any(conflicts.straight[v] >> w & 1 for v, w in combinations(bits(alike), 2))
        assert not any(conflicts.turned[v] >> w & 1 for v in bits(straight) for w in bits(turned))
        if straight and turned:
            assert (straight | turned) & ~conflicts.mixable == 0


def bits(mask: int) -> list[int]:
    return [k for k in range(mask.bit_length()) if mask >> k & 1]


@settings(max_examples=150, deadline=None)
@given(prints())
def test_no_way_of_sharing_out_a_small_print_needs_fewer_faces(conflicts: Conflicts) -> None:
    found = fewest_faces(conflicts)
    check(found.faces, conflicts)
    assert len(found.faces) == found.at_least == every_way(conflicts)


@settings(max_examples=150, deadline=None)
@given(prints(most=12))
def test_evening_out_keeps_the_number_and_what_may_not_be(conflicts: Conflicts) -> None:
    found = fewest_faces(conflicts)
    members = [1 << k for k in range(len(conflicts.straight))]
    evened = even_out(found, conflicts, members)
    check(evened, conflicts)
    assert len(evened) == len(found.faces)
    firsts = [min(bits(straight | turned)) for straight, turned in evened]
    assert firsts == sorted(firsts)
    assert all(straight.bit_count() >= turned.bit_count() for straight, turned in evened)


@settings(max_examples=100, deadline=None)
@given(prints(most=10))
def test_changing_places_keeps_what_may_not_be_and_never_beats_the_proof(conflicts: Conflicts) -> None:
    proven = fewest_faces(conflicts)
    size = len(conflicts.straight)
    each_alone = Faces(tuple((1 << v, 0) for v in range(size)), len(proven.faces))
    found = fewer_faces(each_alone, conflicts, moves=400)
    check(found.faces, conflicts)
    assert len(found.faces) >= len(proven.faces)
    if len(proven.faces) > 1:
        assert share_out(conflicts, len(proven.faces) - 1, moves=100) is None


def test_changing_places_finds_what_a_search_cut_short_has_not() -> None:
    """Queens on a board of 7 x 7: seven colours are enough, one for each queen that all others avoid."""
    squares = [(row, column) for row in range(7) for column in range(7)]
    straight = [0] * 49
    for (i, one), (j, other) in combinations(enumerate(squares), 2):
        across, down = abs(one[0] - other[0]), abs(one[1] - other[1])
        if 0 in (across, down) or across == down:
            straight[i] |= 1 << j
            straight[j] |= 1 << i
    queens = Conflicts(tuple(straight), (0,) * 49)
    short = fewest_faces(queens, step_limit=60)
    assert len(short.faces) > short.at_least == 7
    found = fewer_faces(short, queens)
    check(found.faces, queens)
    assert len(found.faces) < len(short.faces)


def ring_of_cycles() -> Conflicts:
    """Two rings of five, every one of the first in conflict with all of the second.

    A ring of five needs three colours and has no clique above two, so the whole needs six with a clique of
    four: the standard example of a bound that is not reached.
    """
    masks = [0] * 10
    for ring in (0, 5):
        for k in range(5):
            for other in (ring + (k + 1) % 5, ring + (k - 1) % 5):
                masks[ring + k] |= 1 << other
            masks[ring + k] |= 0b1111100000 >> ring
    return Conflicts(tuple(masks), (0,) * 10)


def test_more_faces_than_the_largest_clique_are_proven_by_going_through_all() -> None:
    found = fewest_faces(ring_of_cycles())
    assert (len(found.faces), found.at_least) == (6, 6)


def test_a_search_cut_short_states_what_is_proven() -> None:
    found = fewest_faces(ring_of_cycles(), step_limit=1)
    check(found.faces, ring_of_cycles())
    assert found.at_least == 4
    assert len(found.faces) >= 6


@pytest.mark.parametrize("share", [0.4, 0.6, 0.85])
def test_the_fewest_faces_agree_with_a_solver(share: float) -> None:
    """HiGHS, through scipy.optimize.milp, on a random print of 13 inks without half turns."""
    size = 13
    chance = np.random.default_rng(round(100 * share)).random((size, size))
    pairs = [(i, j) for i, j in combinations(range(size), 2) if chance[i, j] < share]
    straight = tuple(sum(1 << (i + j - v) for i, j in pairs if v in (i, j)) for v in range(size))
    found = fewest_faces(Conflicts(straight, (0,) * size))
    faces = len(found.faces)
    # x[v, f]: vertex v is on face f; y[f]: the face is there. One face more than found is plenty.
    count = faces + 1
    rows, lower, upper = [], [], []

    def row(entries: dict[int, float], least: float, most: float) -> None:
        line = np.zeros(size * count + count)
        for at, value in entries.items():
            line[at] = value
        rows.append(line)
        lower.append(least)
        upper.append(most)

    for v in range(size):
        row({v * count + f: 1.0 for f in range(count)}, 1, 1)
    for i, j in pairs:
        for f in range(count):
            row({i * count + f: 1.0, j * count + f: 1.0, size * count + f: -1.0}, -np.inf, 0)
    for v in range(size):
        for f in range(count):
            row({v * count + f: 1.0, size * count + f: -1.0}, -np.inf, 0)
    for f, g in pairwise(range(count)):
        row({size * count + f: -1.0, size * count + g: 1.0}, -np.inf, 0)
    cost = np.r_[np.zeros(size * count), np.ones(count)]
    solved = milp(
        c=cost,
        integrality=np.ones_like(cost),
        bounds=(0, 1),
        constraints=LinearConstraint(np.array(rows), lower, upper),
    )
    assert solved.success
    assert found.at_least == faces == round(solved.fun)


def test_turning_is_left_alone_where_it_spares_nothing() -> None:
    """Two inks that share a face straight as well as turned, and a third that conflicts with both."""
    conflicts = Conflicts((0b100, 0b100, 0b011), (0b100, 0b100, 0b011), mixable=0b111)
    found = fewest_faces(conflicts)
    assert even_out(found, conflicts, [1, 2, 4]) == ((0b011, 0), (0b100, 0))


def test_inks_that_follow_each_other_go_to_different_faces_where_they_can() -> None:
    """Only 1 and 3 conflict. 0 goes with 3, not with 1 that follows it; 2 is next to both, and evens out."""
    conflicts = Conflicts((0, 0b1000, 0, 0b0010), (0,) * 4)
    evened = even_out(fewest_faces(conflicts), conflicts, [1, 2, 4, 8])
    assert evened == ((0b1001, 0), (0b0110, 0))


def test_no_faces_for_no_inks() -> None:
    assert fewest_faces(Conflicts((), ())) == Faces((), 0)
    assert even_out(Faces((), 0), Conflicts((), ()), []) == ()


@pytest.mark.parametrize(
    ("seed", "size", "density"), [(1, 18, 0.3), (2, 24, 0.5), (3, 30, 0.4), (4, 40, 0.2)]
)
def test_bound_and_number_lie_where_networkx_has_clique_and_saturation(
    seed: int, size: int, density: float
) -> None:
    """Its largest clique is no more than our bound, its DSATUR colouring no less than our number."""
    drawn = networkx.gnp_random_graph(size, density, seed=seed)
    masks = tuple(sum(1 << k for k in drawn[vertex]) for vertex in range(size))
    found = fewest_faces(Conflicts(masks, (0,) * size))
    clique = max(len(each) for each in networkx.find_cliques(drawn))
    colours = networkx.greedy_color(drawn, strategy="DSATUR")
    assert clique <= found.at_least <= len(found.faces) <= 1 + max(colours.values())
    check(found.faces, Conflicts(masks, (0,) * size))

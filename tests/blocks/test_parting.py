"""Full faces and part blocks: the fewest full faces, then the least wood, held against trying everything."""

from collections.abc import Iterator

from hypothesis import given, settings
from hypothesis import strategies as st

from blockwright.blocks.colouring import Conflicts
from blockwright.blocks.parting import part_faces


def partitions(items: list[int]) -> Iterator[list[int]]:
    """Every way to put items into groups, as bit masks."""
    if not items:
        yield []
        return
    first, *rest = items
    for groups in partitions(rest):
        yield [1 << first, *groups]
        for k, group in enumerate(groups):
            yield [*groups[:k], group | 1 << first, *groups[k + 1 :]]


def free_of_conflict(mask: int, graph: tuple[int, ...]) -> bool:
    return not any(mask >> v & 1 and graph[v] & mask for v in range(len(graph)))


def wood(mask: int, places: tuple[int, ...]) -> float:
    """As of rectangles in one row: from the first place to the last, and a border."""
    there = [place for v, place in enumerate(places) if mask >> v & 1]
    return float(max(there) - min(there) + 10)


@given(
    edges=st.lists(st.booleans(), min_size=10, max_size=10),
    places=st.tuples(*[st.integers(0, 40)] * 5),
    may=st.integers(0, 31),
    must=st.integers(0, 31),
)
@settings(max_examples=150, deadline=None)
def test_nothing_better_is_found_by_trying_everything(
    edges: list[bool], places: tuple[int, ...], may: int, must: int
) -> None:
    must &= may
    graph, pairs = [0] * 5, iter(edges)
    for i in range(5):
        for j in range(i):
            if next(pairs):
                graph[i] |= 1 << j
                graph[j] |= 1 << i
    conflicts = Conflicts(tuple(graph), (0,) * 5)
    parted = part_faces(conflicts, may=may, must=must, wood_of=lambda mask: wood(mask, places))
    straight = [face[0] for face in parted.faces.faces]
    assert sorted(v for mask in (*straight, *parted.parts) for v in range(5) if mask >> v & 1) == list(
        range(5)
    )
    assert all(free_of_conflict(mask, conflicts.straight) for mask in (*straight, *parted.parts))
    assert all(mask & ~may == 0 for mask in parted.parts)
    assert all(mask & must == 0 for mask in straight)
    # The fewest full faces: of what must have one alone.
    full = [v for v in range(5) if not may >> v & 1]
    fewest = min(
        len(groups)
        for groups in partitions(full)
        if all(free_of_conflict(group, conflicts.straight) for group in groups)
    )
    assert len(straight) == parted.faces.at_least == fewest
    # The least wood beside the full faces as they were found: every small one anywhere.
    small = [v for v in range(5) if may >> v & 1]
    core = [mask & ~may for mask in straight]
    assert parted.least_wood
    assert sum(wood(mask, places) for mask in parted.parts) == _least(small, core, conflicts, must, places)


def _least(
    small: list[int], core: list[int], conflicts: Conflicts, must: int, places: tuple[int, ...]
) -> float:
    best = float("inf")

    def place(k: int, faces: list[int], parted: list[int]) -> None:
        nonlocal best
        if k == len(small):
            for groups in partitions(parted):
                if all(free_of_conflict(group, conflicts.straight) for group in groups):
                    best = min(best, sum(wood(group, places) for group in groups))
            return
        vertex = small[k]
        if not must >> vertex & 1:
            for f, face in enumerate(faces):
                if not conflicts.straight[vertex] & face:
                    place(k + 1, [*faces[:f], face | 1 << vertex, *faces[f + 1 :]], parted)
        place(k + 1, faces, [*parted, vertex])

    place(0, core, [])
    return best


def test_a_search_that_is_cut_short_still_answers() -> None:
    count = 24
    conflicts = Conflicts((0,) * count, (0,) * count)
    parted = part_faces(
        conflicts,
        may=(1 << count) - 1,
        must=0,
        wood_of=lambda mask: 10.0 * mask.bit_count() ** 0.5,
        step_limit=50,
    )
    assert not parted.least_wood
    assert sum(mask.bit_count() for mask in parted.parts) == count

"""Which impressions stand on part blocks: the fewest full faces first, then the least wood in part blocks.

What must have a full face is laid out on the fewest, as if there were nothing else. What may stand on a
part block is then dealt out: onto one of those faces, where it takes no wood at all, or onto a part block,
alone or with others where one piece of wood is smaller than two.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from blockwright.blocks.colouring import Conflicts, Faces, fewest_faces
from blockwright.blocks.fewer import fewer_faces

STEP_LIMIT = 60_000
"""Ways tried before the best so far is taken: about a second. Counted in steps and not in seconds, so that
every machine finds the same."""

Face = tuple[int, int]

WoodOf = Callable[[int], float | None]
"""The wood (mm2) of the part block that some vertices, a bit mask, need; None where none may carry them."""


@dataclass(frozen=True, slots=True)
class Parted:
    """The full faces, the vertices of each part block as a bit mask, and what is proven.

    ``faces.at_least`` is how few full faces are proven to be needed; ``least_wood`` whether the part blocks
    were seen to take the least wood that they can beside these full faces.
    """

    faces: Faces
    parts: tuple[int, ...]
    least_wood: bool


def part_faces(
    conflicts: Conflicts,
    *,
    may: int,
    must: int,
    wood_of: WoodOf,
    step_limit: int = STEP_LIMIT,
) -> Parted:
    """Deal the vertices out over full faces and part blocks.

    ``may`` are the vertices that may stand on part blocks, ``must`` those of them that have to, bit masks.

    >>> free = Conflicts(straight=(0b010, 0b001, 0), turned=(0, 0, 0))
    >>> part_faces(free, may=0b110, must=0, wood_of=lambda mask: 5.0 * mask.bit_count())
    Parted(faces=Faces(faces=((5, 0),), at_least=1), parts=(2,), least_wood=True)
    """
    count = len(conflicts.straight)
    full = [vertex for vertex in range(count) if not may >> vertex & 1]
    few = _among(full, conflicts)
    search = _Search(conflicts, must, wood_of, step_limit)
    by_wood = sorted(
        (vertex for vertex in range(count) if may >> vertex & 1),
        key=lambda vertex: (-(wood_of(1 << vertex) or 0.0), vertex),
    )
    search.deal(by_wood, list(few.faces), [], 0.0)
    faces, parts = search.best
    lowest = sorted(parts, key=lambda mask: mask & -mask)
    return Parted(Faces(tuple(faces), few.at_least), tuple(lowest), search.steps_left > 0)


def _among(vertices: Sequence[int], conflicts: Conflicts) -> Faces:
    """The fewest faces for some of the vertices alone."""
    kept = sum(1 << vertex for vertex in vertices)

    def packed(mask: int) -> int:
        return sum(1 << k for k, vertex in enumerate(vertices) if mask & kept & 1 << vertex)

    alone = Conflicts(
        tuple(packed(conflicts.straight[vertex]) for vertex in vertices),
        tuple(packed(conflicts.turned[vertex]) for vertex in vertices),
        packed(conflicts.mixable),
    )
    few = fewer_faces(fewest_faces(alone), alone)

    def spread(mask: int) -> int:
        return sum(1 << vertex for k, vertex in enumerate(vertices) if mask >> k & 1)

    return Faces(tuple((spread(straight), spread(turned)) for straight, turned in few.faces), few.at_least)


class _Search:
    """Branch and bound over where each vertex stands; the first way down is always gone."""

    def __init__(self, conflicts: Conflicts, must: int, wood_of: WoodOf, step_limit: int) -> None:
        self.conflicts = conflicts
        self.must = must
        self.wood_of = wood_of
        self.steps_left = max(step_limit, 2 * len(conflicts.straight))
        self.best: tuple[list[Face], list[int]] = ([], [])
        self.least = float("inf")
        self._woods: dict[int, float | None] = {}

    def deal(self, left: Sequence[int], faces: list[Face], parts: list[int], wood: float) -> None:
        """Place the vertices that are left in every way that may take less wood than the best yet."""
        if wood >= self.least:
            return
        if not left:
            self.best, self.least = (list(faces), list(parts)), wood
            return
        vertex, rest = left[0], left[1:]
        for joined_faces, joined_parts, more in self._ways(vertex, faces, parts):
            # One way down is gone whatever the limit, so that there is always an answer.
            if self.steps_left <= 0 and self.least < float("inf"):
                return
            self.steps_left -= 1
            self.deal(rest, joined_faces, joined_parts, wood + more)

    def _ways(
        self, vertex: int, faces: list[Face], parts: list[int]
    ) -> list[tuple[list[Face], list[int], float]]:
        """Every way to place a vertex, that which takes the least wood first."""
        bit = 1 << vertex
        ways: list[tuple[list[Face], list[int], float]] = []
        if not self.must & bit:
            for k, face in enumerate(faces):
                for turned in (False, True) if face[1] else (False,):
                    if self.conflicts.fits(vertex, face, turned=turned):
                        joined = (face[0], face[1] | bit) if turned else (face[0] | bit, face[1])
                        ways.append(([*faces[:k], joined, *faces[k + 1 :]], parts, 0.0))
        for k, part in enumerate(parts):
            together = self._wood(part | bit)
            if together is not None and not self.conflicts.straight[vertex] & part:
                more = together - (self._wood(part) or 0.0)
                ways.append((faces, [*parts[:k], part | bit, *parts[k + 1 :]], more))
        ways.append((faces, [*parts, bit], self._wood(bit) or 0.0))
        return sorted(ways, key=lambda way: way[2])

    def _wood(self, mask: int) -> float | None:
        if mask not in self._woods:
            self._woods[mask] = self.wood_of(mask)
        return self._woods[mask]

"""The fewest faces: an exact colouring of the graph of conflicts, in which a vertex may also be turned.

A face is a colour class. Every vertex stands on its face straight or, where the block may be laid down turned
by half, turned; two vertices of one face are judged by the one graph when they stand alike, and by the other
when they do not. Only such faces need a second pair of marks, so a vertex that would lie in the way of those
never stands with one that is turned against it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from blockwright.blocks.sharing import largest_clique

STEP_LIMIT = 100_000
"""Places tried in a search before the best so far is taken: some two seconds. Prints of 40 inks take a few
hundred; counted in steps and not in seconds, so that every machine finds the same."""


Blocked = tuple[list[int], list[int]]
"""For each vertex the bit mask of the faces that it cannot join: straight, and turned."""


@dataclass(frozen=True, slots=True)
class Conflicts:
    """For each vertex the bit masks of those that it cannot share a face with.

    ``straight`` holds for two that stand alike, ``turned`` for two of which one is turned. ``mixable`` is the
    bit mask of the vertices that leave room for a second pair of marks; 0 when no block may be turned.
    """

    straight: tuple[int, ...]
    turned: tuple[int, ...]
    mixable: int = 0

    def fits(self, vertex: int, face: tuple[int, int], *, turned: bool) -> bool:
        """Whether a vertex can join a face, given as the bit masks of those straight and turned on it."""
        alike, against = (face[1], face[0]) if turned else face
        if self.straight[vertex] & alike or self.turned[vertex] & against:
            return False
        mixed = against != 0
        return not mixed or (alike | against | 1 << vertex) & ~self.mixable == 0


@dataclass(frozen=True, slots=True)
class Faces:
    """The vertices of each face as bit masks, straight and turned, and how few faces are proven needed."""

    faces: tuple[tuple[int, int], ...]
    at_least: int


def fewest_faces(conflicts: Conflicts, *, step_limit: int = STEP_LIMIT) -> Faces:
    """Share the vertices out over as few faces as can be found, and say how few there must be.

    First without turning anything; where that leaves more faces than must be, once more with it. The lower
    bound is the largest clique of those that can share in no way, or the number found when the search has
    been through all there is. After ``step_limit`` steps of a search the best faces so far are taken.

    >>> fewest_faces(Conflicts(straight=(0b010, 0b101, 0b010), turned=(0, 0, 0)))
    Faces(faces=((2, 0), (5, 0)), at_least=2)
    >>> fewest_faces(Conflicts(straight=(0b010, 0b101, 0b010), turned=(0b100, 0, 0b001), mixable=0b111))
    Faces(faces=((5, 2),), at_least=1)
    """
    if not conflicts.straight:
        return Faces((), 0)
    plain = Conflicts(conflicts.straight, conflicts.turned)
    clique = largest_clique(plain.straight)
    found, whole = _search(plain, clique, below=len(plain.straight) + 1, step_limit=step_limit)
    if not conflicts.mixable:
        return Faces(found, len(found) if whole else len(clique))
    core = largest_clique(_never(conflicts))
    if len(found) <= len(core):
        return Faces(found, len(found))
    fewer, whole = _search(conflicts, core, below=len(found), step_limit=step_limit)
    best = fewer or found
    return Faces(best, len(best) if whole else len(core))


def _never(conflicts: Conflicts) -> list[int]:
    """The graph of those that cannot share a face however they stand."""
    return [
        straight & (turned | (~conflicts.mixable if conflicts.mixable >> vertex & 1 else -1))
        for vertex, (straight, turned) in enumerate(zip(conflicts.straight, conflicts.turned, strict=True))
    ]


@dataclass(slots=True)
class _Search:
    """A search for fewer than ``below`` faces, which ``enough`` of them or ``steps_left`` ends early."""

    conflicts: Conflicts
    enough: int
    below: int
    steps_left: int
    best: tuple[tuple[int, int], ...] = ()

    @property
    def ended(self) -> bool:
        return self.steps_left <= 0 or self.below <= self.enough

    def place(self, blocked: Blocked, vertex: int, face: int, *, turned: bool) -> Blocked:
        """What is left to each vertex when this one has been put on a face."""
        straight, against = list(blocked[0]), list(blocked[1])
        everyone, bit = (1 << len(straight)) - 1, 1 << face
        alike, other = (against, straight) if turned else (straight, against)
        _mark(alike, self.conflicts.straight[vertex], bit)
        _mark(other, self.conflicts.turned[vertex], bit)
        if turned:  # who leaves no room for a second pair of marks is kept off
            _mark(straight, everyone & ~self.conflicts.mixable, bit)
        elif not self.conflicts.mixable >> vertex & 1:  # nobody may be turned on this face
            _mark(against, everyone, bit)
        return straight, against

    def begin(self, clique: Sequence[int]) -> None:
        """Give the members of a clique a face each, and place the others."""
        count = len(self.conflicts.straight)
        left = (1 << count) - 1
        blocked: Blocked = [0] * count, [0] * count
        _mark(blocked[1], left & ~self.conflicts.mixable, -1)
        faces: list[tuple[int, int]] = []
        for vertex in clique:
            blocked = self.place(blocked, vertex, len(faces), turned=False)
            faces.append((1 << vertex, 0))
            left &= ~(1 << vertex)
        if len(faces) < self.below:
            self.extend(faces, left, blocked)

    def extend(self, faces: list[tuple[int, int]], left: int, blocked: Blocked) -> None:
        """Place what is left in every way that may come to fewer faces than the best yet."""
        if not left:
            self.best, self.below = tuple(faces), len(faces)
            return
        vertex, free = self.most_pressed(left, (1 << len(faces)) - 1, blocked)
        left &= ~(1 << vertex)
        while free:
            bit = free & -free
            free ^= bit
            face = bit.bit_length() - 1
            for turned in (False, True):
                if blocked[turned][vertex] & bit:
                    continue
                if len(faces) >= self.below or self.ended:
                    return
                self.steps_left -= 1
                joined = list(faces)
                joined[face] = _joined(faces[face], vertex, turned=turned)
                self.extend(joined, left, self.place(blocked, vertex, face, turned=turned))
        if len(faces) + 1 < self.below and not self.ended:
            self.steps_left -= 1
            opened = self.place(blocked, vertex, len(faces), turned=False)
            self.extend([*faces, (1 << vertex, 0)], left, opened)

    def most_pressed(self, left: int, all_faces: int, blocked: Blocked) -> tuple[int, int]:
        """The vertex to place next and the bit mask of the faces open to it.

        It is the one with the fewest ways to stand, then the most conflicts, then the lowest number.
        """
        straight, turned = blocked
        graphs = self.conflicts.straight, self.conflicts.turned
        best: tuple[int, int, int, int] | None = None
        while left:
            bit = left & -left
            left ^= bit
            vertex = bit.bit_length() - 1
            upright, upturned = all_faces & ~straight[vertex], all_faces & ~turned[vertex]
            ways = upright.bit_count() + upturned.bit_count()
            if best is None or ways <= best[0]:
                conflicts = sum(graph[vertex].bit_count() for graph in graphs)
                key = (ways, -conflicts, vertex, upright | upturned)
                best = key if best is None else min(best, key)
        assert best is not None
        return best[2], best[3]


def _search(
    conflicts: Conflicts, clique: Sequence[int], *, below: int, step_limit: int
) -> tuple[tuple[tuple[int, int], ...], bool]:
    """Find fewer than ``below`` faces; also tell whether all there is has been seen.

    Branch and bound: the members of the clique get a face each; then always the vertex that has the fewest
    ways left to stand is placed on each of these and on a new one (Brelaz, "New methods to color the vertices
    of a graph", CACM 22(4), 1979). The first way down is his heuristic. Turning all of a face changes
    nothing, so the first vertex of each stands straight.
    """
    search = _Search(conflicts, len(clique), below, max(step_limit, len(conflicts.straight)))
    search.begin(clique)
    return search.best, search.steps_left > 0 or search.below <= search.enough


def _mark(blocked: list[int], vertices: int, faces: int) -> None:
    while vertices:
        bit = vertices & -vertices
        blocked[bit.bit_length() - 1] |= faces
        vertices ^= bit


def _joined(face: tuple[int, int], vertex: int, *, turned: bool) -> tuple[int, int]:
    """A face with one more vertex.

    >>> _joined((0b1, 0b0), 2, turned=True)
    (1, 4)
    """
    return (face[0], face[1] | 1 << vertex) if turned else (face[0] | 1 << vertex, face[1])

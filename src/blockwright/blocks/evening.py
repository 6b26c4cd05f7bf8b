"""Among equally few faces those that are pleasant to print from.

Better is, in this order: fewer impressions for which a block is turned; fewer inks that share a face and
follow each other in printing, as a face must be wiped and dried between two inks; faces that carry alike
many.
"""

from collections.abc import Sequence

from blockwright.blocks.colouring import Conflicts, Faces

_TURNED, _IN_A_ROW = 10**8, 10**4
"""Weights: one of these outweighs every sum of what comes after it, at 64 impressions at most."""

ROUNDS = 200
"""Changes after which the faces are left as they are; a print needs a few dozen."""

Face = tuple[int, int]


def even_out(faces: Faces, conflicts: Conflicts, members: Sequence[int]) -> tuple[Face, ...]:
    """Move and swap vertices between the faces as long as that makes them better to print from.

    ``members`` gives for each vertex the bit mask of its impressions, counted in printing order. The faces
    come in the order of their first impressions; on each, more impressions stand straight than turned. What
    is found is the best that no single move or swap betters.

    >>> free = Conflicts(straight=(0, 0, 0, 0), turned=(0, 0, 0, 0))
    >>> even_out(Faces(((0b0111, 0), (0b1000, 0)), at_least=1), free, members=(1, 2, 4, 8))
    ((5, 0), (10, 0))
    """
    now = list(faces.faces)
    for _ in range(ROUNDS):
        better = _better(now, conflicts, members)
        if better is None:
            break
        now = better
    upright = [_upright(face, members) for face in now if face != (0, 0)]
    return tuple(sorted(upright, key=lambda face: _lowest(_carried(face[0] | face[1], members))))


def _carried(vertices: int, members: Sequence[int]) -> int:
    """The impressions of some vertices, as a bit mask."""
    carried = 0
    while vertices:
        bit = vertices & -vertices
        carried |= members[bit.bit_length() - 1]
        vertices ^= bit
    return carried


def _lowest(mask: int) -> int:
    return (mask & -mask).bit_length()


def _upright(face: Face, members: Sequence[int]) -> Face:
    """Stand the greater part of a face straight, or of equal parts the one that is printed first."""
    straight, turned = (_carried(each, members) for each in face)
    ours, theirs = straight.bit_count(), turned.bit_count()
    swap = theirs > ours or (theirs == ours and _lowest(turned) < _lowest(straight))
    return (face[1], face[0]) if swap else face


def _cost(face: Face, members: Sequence[int]) -> int:
    straight, turned = (_carried(each, members) for each in face)
    carried = straight | turned
    in_a_row = (carried & carried >> 1).bit_count()
    fewer_turned = min(straight.bit_count(), turned.bit_count())
    return _TURNED * fewer_turned + _IN_A_ROW * in_a_row + carried.bit_count() ** 2


def _without(face: Face, vertex: int) -> Face:
    return face[0] & ~(1 << vertex), face[1] & ~(1 << vertex)


def _ways(face: Face, vertex: int, conflicts: Conflicts) -> list[Face]:
    """A face with one more vertex, in every way in which it fits."""
    ways = []
    for turned in (False, True) if face[0] | face[1] else (False,):
        if conflicts.fits(vertex, face, turned=turned):
            bit = 1 << vertex
            ways.append((face[0], face[1] | bit) if turned else (face[0] | bit, face[1]))
    return ways


def _better(now: list[Face], conflicts: Conflicts, members: Sequence[int]) -> list[Face] | None:
    """The faces after the first move or swap that betters them, or None."""
    costs = [_cost(face, members) for face in now]
    where = {v: k for k, face in enumerate(now) for v in range(len(members)) if (face[0] | face[1]) >> v & 1}
    for vertex, home in sorted(where.items()):
        left = _without(now[home], vertex)
        left_cost = _cost(left, members)
        for there in range(len(now)):
            before = costs[home] if there == home else costs[home] + costs[there]
            base = left if there == home else now[there]
            for joined in _ways(base, vertex, conflicts):
                after = _cost(joined, members) + (0 if there == home else left_cost)
                if after < before:
                    changed = list(now)
                    changed[home] = left
                    changed[there] = joined
                    return changed
    for one, home in sorted(where.items()):
        for other, there in sorted(where.items()):
            if other <= one or there == home:
                continue
            swapped = _swapped(now[home], now[there], one, other, conflicts)
            for first, second in swapped:
                if _cost(first, members) + _cost(second, members) < costs[home] + costs[there]:
                    changed = list(now)
                    changed[home], changed[there] = first, second
                    return changed
    return None


def _swapped(home: Face, there: Face, one: int, other: int, conflicts: Conflicts) -> list[tuple[Face, Face]]:
    """Two faces after two vertices changed places, in every way in which they fit."""
    firsts = _ways(_without(home, one), other, conflicts)
    seconds = _ways(_without(there, other), one, conflicts) if firsts else []
    return [(first, second) for first in firsts for second in seconds]

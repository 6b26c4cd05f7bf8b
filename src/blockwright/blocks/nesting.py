"""How unequal pieces are sawn from one stock board by cuts from edge to edge, and in how few places.

Any board that is sawn so falls into two by its first cut, and each of these by the next. So the least
rectangles that hold some pieces are found from those that hold fewer, side by side or one above the other
with the saw between; of these only the ones that no other beats both ways are kept. All pieces lie as they
are given, as the grain wants it. Lengths are whole thousandths of a millimetre, so that sums are exact.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

Counts = tuple[int, ...]
"""How many pieces of each kind."""

Size = tuple[int, int]
"""Width and height, thousandths of a millimetre."""

Corner = tuple[int, int, int]
"""The kind of a piece, and where its near corner lies."""


@dataclass(frozen=True, slots=True)
class Held:
    """A rectangle that holds some pieces: one piece alone, or two rectangles with a cut between them.

    ``beside``: the second lies to the right of the first, not below it.
    """

    width: int
    height: int
    kind: int = -1
    first: "Held | None" = None
    second: "Held | None" = None
    beside: bool = True


Fronts = dict[Counts, tuple[Held, ...]]


def splits_of(counts: Counts) -> int:
    """How many ways there are to part pieces in two, for all smaller numbers of them: the work to be done.

    >>> splits_of((1, 1)), splits_of((2,))
    (9, 6)
    """
    return prod((count + 1) * (count + 2) // 2 for count in counts)


def find_fronts(sizes: Sequence[Size], counts: Counts, boards: Sequence[Size], *, kerf: int) -> Fronts:
    """Return for every number of pieces up to ``counts`` the least rectangles that hold them on a board.

    ``sizes`` are those of the kinds, ``boards`` those of the stock. What no board holds is left out. Within
    cuts from edge to edge nothing is missed.

    >>> fronts = find_fronts([(40, 20)], (2,), [(100, 100)], kerf=2)
    >>> [(held.width, held.height) for held in fronts[(2,)]]
    [(40, 42), (82, 20)]
    """
    fronts: Fronts = {}
    for wanted in sorted(
        product(*(range(count + 1) for count in counts)), key=lambda each: (sum(each), each)
    ):
        total = sum(wanted)
        if total == 0:
            continue
        if total == 1:
            kind = wanted.index(1)
            least: tuple[Held, ...] = (Held(*sizes[kind], kind=kind),) if _fits(*sizes[kind], boards) else ()
        else:
            least = _joined(wanted, fronts, boards, kerf)
        if least:
            fronts[wanted] = least
    return fronts


def _fits(width: int, height: int, boards: Sequence[Size]) -> bool:
    return any(width <= board[0] and height <= board[1] for board in boards)


_Joined = tuple[int, int, "Held", "Held", bool]
"""Width, height, the two rectangles, and whether they lie side by side."""


def _joined(wanted: Counts, fronts: Fronts, boards: Sequence[Size], kerf: int) -> tuple[Held, ...]:
    """The least of all rectangles that hold the pieces in two parts, joined both ways."""
    candidates: list[_Joined] = []
    for part in product(*(range(count + 1) for count in wanted)):
        rest = tuple(count - taken for count, taken in zip(wanted, part, strict=True))
        # Each parting once, with what comes first among the kinds at the corner.
        if part < rest or part not in fronts or rest not in fronts:
            continue
        candidates += _beside(fronts[part], fronts[rest], kerf)
        candidates += _below(fronts[part], fronts[rest], kerf)
    return tuple(
        Held(width, height, first=one, second=other, beside=beside)
        for width, height, one, other, beside in _least(candidates)
        if _fits(width, height, boards)
    )


def _beside(ones: Sequence[Held], others: Sequence[Held], kerf: int) -> Iterator[_Joined]:
    """Two rectangles side by side, for every height that is worth it.

    Both come the narrowest, and so the highest, first; only a lower one in the place of the higher of the two
    makes the whole lower.
    """
    i = j = 0
    while i < len(ones) and j < len(others):
        one, other = ones[i], others[j]
        yield one.width + kerf + other.width, max(one.height, other.height), one, other, True
        i, j = i + (one.height >= other.height), j + (other.height >= one.height)


def _below(ones: Sequence[Held], others: Sequence[Held], kerf: int) -> Iterator[_Joined]:
    """Two rectangles one above the other, for every width that is worth it."""
    i, j = len(ones) - 1, len(others) - 1
    while i >= 0 and j >= 0:
        one, other = ones[i], others[j]
        yield max(one.width, other.width), one.height + kerf + other.height, one, other, False
        i, j = i - (one.width >= other.width), j - (other.width >= one.width)


def _least(candidates: Sequence[_Joined]) -> Iterator[_Joined]:
    """Those that no other beats in both width and height, by width."""
    lowest: int | None = None
    for each in sorted(candidates, key=lambda joined: joined[:2]):
        if lowest is None or each[1] < lowest:
            lowest = each[1]
            yield each


def pieces_in(held: Held, x: int = 0, y: int = 0) -> Iterator[Corner]:
    """Yield where each piece lies."""
    if held.first is None or held.second is None:
        yield held.kind, x, y
        return
    yield from pieces_in(held.first, x, y)
    yield from pieces_in(held.second, *_second_at(held, x, y))


def _second_at(held: Held, x: int, y: int) -> tuple[int, int]:
    """Where the second of two rectangles begins: at the far side, so that the saw's width lies between."""
    assert held.second is not None, "only what is cut in two has a second part"
    if held.beside:
        return x + held.width - held.second.width, y
    return x, y + held.height - held.second.height


Rest = tuple[int, int, int, int]
"""x, y, width and height of what is left over."""


def rests_in(held: Held, x: int, y: int, width: int, height: int, kerf: int) -> Iterator[Rest]:
    """Yield what is left of a rectangle at (x, y) that holds these pieces, cut by cut.

    The rectangle is trimmed to what is held by the cut that leaves the larger piece whole.
    """
    right, below = width - held.width - kerf, height - held.height - kerf
    if right > 0 and right * height >= below * width:
        yield x + held.width + kerf, y, right, height
        width = held.width
        right = 0
    if below > 0:
        yield x, y + held.height + kerf, width, below
    if right > 0:
        yield x + held.width + kerf, y, right, held.height
    if held.first is None or held.second is None:
        return
    first, second = held.first, held.second
    at = _second_at(held, x, y)
    if held.beside:
        yield from rests_in(first, x, y, first.width, held.height, kerf)
        yield from rests_in(second, *at, second.width, held.height, kerf)
    else:
        yield from rests_in(first, x, y, held.width, first.height, kerf)
        yield from rests_in(second, *at, held.width, second.height, kerf)

"""How many blocks and impressions the whole print has at each point of the curve of overprints.

The search knows the flat colours alone. Beside them the print has its gradations, its key, what is split off
by hand, karazuri and leaf.
"""

from collections.abc import Sequence
from dataclasses import replace

from blockwright.model.separation import Impression, Overprints

Films = tuple[tuple[int, ...], ...]
"""The shapes that each film prints, in printing order."""


def with_others(films: Films, alone: Films, splits: Films) -> Films:
    """All films of a print: those of its flat colours, those ``alone`` beside them, and what is split off.

    Each split is taken out of the topmost film that prints it.

    >>> with_others(((0, 1, 2), (2,)), ((3,),), ((1,),))
    ((0, 2), (2,), (3,), (1,))
    """
    printed = [tuple(sorted(film)) for film in (*films, *alone)]
    for shapes in splits:
        place = max(k for k, film in enumerate(printed) if shapes[0] in film)
        printed[place] = tuple(shape for shape in printed[place] if shape not in shapes)
        printed.append(tuple(sorted(shapes)))
    return tuple(printed)


def counted_whole(
    found: Overprints, films: Sequence[Films], inked: Sequence[Impression], finishing: Sequence[Impression]
) -> Overprints:
    """The curve with the blocks and impressions of the whole print at each point.

    ``films`` are all that are inked at each point; ``inked`` and ``finishing`` are the impressions of the
    plan that was taken, with and without ink. Karazuri that has its block with an ink there has it wherever
    one prints just its shapes.
    """
    pressed = [each for each in finishing if each.kind != "leaf"]
    shared = [each.shapes for each in pressed if _shares(each, inked)]
    curve = []
    for point, printed in zip(found.curve, films, strict=True):
        blocks = set(printed)
        own = len(pressed) - sum(shapes in blocks for shapes in shared)
        all_impressions = len(printed) + len(finishing)
        curve.append(replace(point, all_blocks=len(blocks) + own, all_impressions=all_impressions))
    return replace(found, curve=tuple(curve))


def _shares(pressed: Impression, inked: Sequence[Impression]) -> bool:
    """Whether karazuri is pressed from a block that prints an ink too."""
    return pressed.side == "front" and any(
        each.shapes == pressed.shapes and each.area.equals(pressed.area) for each in inked
    )

"""Which groups of impressions may stand on part blocks, which have to, and the wood that they need there."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from blockwright.blocks.part_blocks import Pads, part_rectangle
from blockwright.blocks.wishes import Wishes
from blockwright.model.findings import Finding
from blockwright.model.separation import Impression
from blockwright.model.settings import BlocksTable
from blockwright.model.units import Area, Region


@dataclass(frozen=True, slots=True)
class PartWishes:
    """Bit masks of groups: those that ``may`` stand on part blocks and those of them that ``must``.

    ``rectangle`` gives the part block that some groups need, None where the marks leave no room for it.
    """

    may: int
    must: int
    findings: tuple[Finding, ...]
    rectangle: Callable[[int], Region | None]
    full_mm: tuple[float, float]
    most_mm2: float

    def wood_mm2(self, mask: int) -> float | None:
        """The wood (mm2) of a part block for some groups; None where none may carry them together."""
        rectangle = self.rectangle(mask)
        if rectangle is None or (not mask & self.must and rectangle.area > self.most_mm2):
            return None
        return float(rectangle.area)

    def why(self, mask: int) -> str:
        """Say why a part block carries these groups."""
        rectangle = self.rectangle(mask)
        if rectangle is None:
            return ""
        left, top, right, bottom = rectangle.bounds
        width, height = self.full_mm
        size = f"{right - left:.0f} x {bottom - top:.0f} mm"
        if mask & self.must:
            return f"You want it on a part block, {size}; a full one is {width:.0f} x {height:.0f} mm."
        spared = 100 * (1 - rectangle.area / (width * height))
        return (
            f"A part block of {size} is enough and spares {spared:.0f} % of a full face, "
            f"{width:.0f} x {height:.0f} mm."
        )


def read_part_wishes(
    impressions: Sequence[Impression],
    areas: Sequence[Area],
    wishes: Wishes,
    *,
    block: Region,
    pads: Pads,
    settings: BlocksTable,
) -> PartWishes:
    """Find the groups that part blocks can serve. ``areas`` lie on the face, mirrored, mm.

    With ``part_blocks`` these are all whose block spares ``part_spared_percent`` of a full face; without it
    only what is wanted on part blocks. What presses the sheet's back never is, as the registration board has
    marks for one side.
    """
    left, top, right, bottom = block.bounds
    found: dict[int, Region | None] = {}

    def rectangle(mask: int) -> Region | None:
        if mask not in found:
            carried = [areas[i] for k, group in enumerate(wishes.groups) if mask >> k & 1 for i in group]
            found[mask] = part_rectangle(carried, pads=pads, settings=settings)
        return found[mask]

    most_mm2 = block.area * (1 - settings.part_spared_percent / 100)
    findings: list[Finding] = []
    may = must = 0
    for k, group in enumerate(wishes.groups):
        bit = 1 << k
        wanted = [impressions[i] for i in group if wishes.on_part >> i & 1]
        kept_off = [impressions[i] for i in group if wishes.on_full >> i & 1]
        back = any(impressions[i].side == "back" for i in group)
        if wanted and kept_off:
            findings.append(_two_minds(wanted[0], kept_off[0]))
        if wanted and (back or rectangle(bit) is None):
            findings.append(_not_possible(wanted[0], back=back))
        if back or kept_off or rectangle(bit) is None:
            continue
        if wanted:
            must |= bit
            may |= bit
        elif settings.part_blocks and (wood := rectangle(bit)) is not None and wood.area <= most_mm2:
            may |= bit
    return PartWishes(may, must, tuple(findings), rectangle, (right - left, bottom - top), most_mm2)


def _two_minds(one: Impression, other: Impression) -> Finding:
    return Finding(
        code="part-contradicts",
        severity="stop",
        message=f"{one.name} is wanted on a part block and {other.name} on a full one, and both on one face "
        "by [[blocks.together]]; take out one of the three.",
        about=(("colour", one.name), ("other", other.name)),
    )


def _not_possible(impression: Impression, *, back: bool) -> Finding:
    because = (
        "presses the sheet's back, for which the registration board has no marks"
        if back
        else "prints where the pads of the marks lie on the registration board"
    )
    return Finding(
        code="part-not-possible",
        severity="warn",
        message=f"{impression.name} {because}, so no part block can carry it; on_part_block in [blocks] does "
        "nothing for it.",
        about=(("colour", impression.name),),
    )

"""Which impressions share a face: the fewest faces on which all that is printed has room."""

from collections.abc import Sequence, Set
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import shapely

from blockwright.blocks.colouring import Conflicts, Faces, fewest_faces
from blockwright.blocks.evening import even_out
from blockwright.blocks.fewer import fewer_faces
from blockwright.blocks.mirror import turn_area
from blockwright.blocks.part_blocks import place_pads
from blockwright.blocks.part_wishes import PartWishes, read_part_wishes
from blockwright.blocks.parting import Parted, part_faces
from blockwright.blocks.sharing import find_conflicts, largest_clique, same_area
from blockwright.blocks.wishes import Wishes, read_wishes
from blockwright.model.blocks import FacePart, Kento
from blockwright.model.findings import Finding
from blockwright.model.separation import Impression
from blockwright.model.settings import BlocksTable
from blockwright.model.units import Area, Region

CLEAR_OF_MARKS_MM = 0.5
"""Wood between what prints and the second marks on a face, mm [CP]."""

BETWEEN_MARKS_MM = 3.0
"""Wood between the marks of both ways of laying a block, mm [CP]: a thinner wall breaks off."""


@dataclass(frozen=True, slots=True)
class Shared:
    """What a face carries, in printing order, and in a sentence why it can; the sentence is empty for one.

    ``on_part`` is the rectangle of its part block, None where it stands on a full one.
    """

    parts: tuple[FacePart, ...]
    why: str = ""
    on_part: Region | None = None


@dataclass(frozen=True, slots=True)
class Allotment:
    """The faces in the order of their first impressions, how few are proven to be needed, and findings.

    Those on part blocks come last, and are not counted in ``at_least``; ``least_part_wood`` tells whether
    they are proven to take the least wood beside the full ones, ``full_faces_without_parts`` how many full
    faces there would be if there were none.
    """

    faces: tuple[Shared, ...]
    at_least: int
    findings: tuple[Finding, ...]
    least_part_wood: bool = True
    full_faces_without_parts: int = 0

    @property
    def full(self) -> tuple[Shared, ...]:
        """The full faces."""
        return tuple(each for each in self.faces if each.on_part is None)


def allot_faces(
    impressions: Sequence[Impression],
    areas: Sequence[Area],
    *,
    block: Region,
    kento: Kento,
    turned_kento: Kento,
    settings: BlocksTable,
) -> Allotment:
    """Share the impressions out over the fewest faces.

    ``areas`` are what the impressions print as it lies on the face, mirrored, in mm. Two of them may share a
    face when their areas keep ``sharing_distance_mm``, or are the same. Where ``half_turn`` is set a block
    may be laid down turned for some impressions of a face, if the marks of both ways have room beside each
    other and beside all that the face prints. Without ``share_faces`` only what is wanted together shares.
    What presses the sheet's back shares no face with what presses its front, and none that is turned. With
    ``part_blocks``, or where it is wanted, small areas stand on part blocks, so that there are fewer full
    faces, and no more wood than must be in part blocks.
    """
    wishes = read_wishes(impressions, settings)
    turned = [turn_area(area, block) for area in areas]
    alike = find_conflicts(
        areas,
        nearer_than_mm=settings.sharing_distance_mm,
        masked=wishes.masked,
        masked_mm=settings.masked_distance_mm,
    )
    against, mixable = [0] * len(areas), 0
    if settings.half_turn and settings.share_faces and _marks_keep_clear(kento, turned_kento):
        against = find_conflicts(
            areas,
            others=turned,
            nearer_than_mm=settings.sharing_distance_mm,
            masked=wishes.masked,
            masked_mm=settings.masked_distance_mm,
        )
        mixable = _clear_of_marks(areas, turned_kento)
    alike, against, mixable = _by_side(impressions, alike, against, mixable)
    conflicts = _of_groups(Conflicts(tuple(alike), tuple(against), mixable), wishes)
    members = [sum(1 << i for i in group) for group in wishes.groups]
    on_parts = read_part_wishes(
        impressions, areas, wishes, block=block, pads=place_pads(kento, settings), settings=settings
    )
    findings = [*wishes.findings, *on_parts.findings]
    dealt = _deal(conflicts, members, on_parts, settings, findings)
    shared = []
    for straight, half_turned in dealt.faces.faces:
        parts = _parts(impressions, wishes, (straight, half_turned), (areas, turned))
        shared.append(Shared(parts, _why(parts, impressions, settings, wishes, findings)))
    for mask in dealt.parts:
        parts = _parts(impressions, wishes, (mask, 0), (areas, turned))
        why = [on_parts.why(mask), _why(parts, impressions, settings, wishes, findings)]
        shared.append(Shared(parts, " ".join(filter(None, why)), on_parts.rectangle(mask)))
    alone = len(dealt.faces.faces)
    if dealt.parts:
        without = fewer_faces(fewest_faces(conflicts), conflicts) if settings.share_faces else None
        alone = len(without.faces) if without else len(members)
    return Allotment(tuple(shared), dealt.faces.at_least, tuple(findings), dealt.least_wood, alone)


def _deal(
    conflicts: Conflicts,
    members: Sequence[int],
    on_parts: PartWishes,
    settings: BlocksTable,
    findings: list[Finding],
) -> Parted:
    """The groups of every full face and of every part block; what is not proven is a finding."""
    if not settings.share_faces:
        parts = tuple(1 << k for k in range(len(members)) if on_parts.may >> k & 1)
        faces = tuple((1 << k, 0) for k in range(len(members)) if not on_parts.may >> k & 1)
        fewest = len(largest_clique(conflicts.straight)) if not parts else len(faces)
        if not parts:
            findings += _check_sharing(len(faces), fewest, settings.sharing_distance_mm)
        return Parted(Faces(faces, fewest), parts, True)
    if on_parts.may:
        dealt = part_faces(conflicts, may=on_parts.may, must=on_parts.must, wood_of=on_parts.wood_mm2)
    else:
        dealt = Parted(fewer_faces(fewest_faces(conflicts), conflicts), (), True)
    faces = even_out(dealt.faces, conflicts, members)
    findings += _check_proven(len(faces), dealt.faces.at_least)
    return Parted(Faces(faces, dealt.faces.at_least), dealt.parts, dealt.least_wood)


def _by_side(
    impressions: Sequence[Impression], alike: Sequence[int], against: Sequence[int], mixable: int
) -> tuple[list[int], list[int], int]:
    """The conflicts with those of the sheet's two sides: their faces lie the other way round."""
    back = sum(1 << i for i, each in enumerate(impressions) if each.side == "back")
    front = (1 << len(impressions)) - 1 & ~back
    others = [front if back >> i & 1 else back for i in range(len(impressions))]
    # For the back a face is not turned, so that there even those that would fit so are in conflict.
    turned = [other | (back & ~(1 << i) if back >> i & 1 else 0) for i, other in enumerate(others)]
    return (
        [each | other for each, other in zip(alike, others, strict=True)],
        [each | other for each, other in zip(against, turned, strict=True)],
        mixable & ~back,
    )


def _marks_keep_clear(kento: Kento, turned: Kento) -> bool:
    """Whether the marks of both ways of laying a block have room on one face."""
    both = [shapely.union(each.kagi_recess, each.hikitsuke_recess) for each in (kento, turned)]
    return bool(shapely.distance(both[0], both[1]) >= BETWEEN_MARKS_MM)


def _clear_of_marks(areas: Sequence[Area], turned_kento: Kento) -> int:
    """The areas that leave room for the second marks, as a bit mask."""
    marks = shapely.union(turned_kento.kagi_recess, turned_kento.hikitsuke_recess)
    near = shapely.buffer(marks, CLEAR_OF_MARKS_MM, join_style="mitre")
    return sum(1 << i for i, area in enumerate(areas) if not shapely.intersects(area, near))


def _of_groups(conflicts: Conflicts, wishes: Wishes) -> Conflicts:
    """The conflicts of whole groups; what is wanted apart conflicts in every way.

    The members of a group stand alike.
    """
    group_of = {i: k for k, group in enumerate(wishes.groups) for i in group}
    straight, turned = ([0] * len(wishes.groups) for _ in range(2))

    def keep_apart(graph: list[int], i: int, j: int) -> None:
        one, other = group_of[i], group_of[j]
        if one != other:
            graph[one] |= 1 << other
            graph[other] |= 1 << one

    for i, j in combinations(range(len(group_of)), 2):
        if conflicts.straight[i] >> j & 1:
            keep_apart(straight, i, j)
        if conflicts.turned[i] >> j & 1:
            keep_apart(turned, i, j)
    for i, j in wishes.apart:
        keep_apart(straight, i, j)
        keep_apart(turned, i, j)
    mixable = sum(
        1 << k for k, group in enumerate(wishes.groups) if all(conflicts.mixable >> i & 1 for i in group)
    )
    return Conflicts(tuple(straight), tuple(turned), mixable)


def _parts(
    impressions: Sequence[Impression],
    wishes: Wishes,
    face: tuple[int, int],
    lying: tuple[Sequence[Area], Sequence[Area]],
) -> tuple[FacePart, ...]:
    parts = []
    for turned, mask in enumerate(face):
        for k, group in enumerate(wishes.groups):
            if mask >> k & 1:
                parts += [FacePart(impressions[i].number, lying[turned][i], bool(turned)) for i in group]
    return tuple(sorted(parts, key=lambda part: part.impression))


def _why(
    parts: Sequence[FacePart],
    impressions: Sequence[Impression],
    settings: BlocksTable,
    wishes: Wishes,
    findings: list[Finding],
) -> str:
    """Say why a face can carry what it carries; what is nearer than the distance by decision is a finding."""
    if len(parts) < 2:
        return ""
    index = {each.number: i for i, each in enumerate(impressions)}
    names = {each.number: each.name for each in impressions}
    apart_mm, same = [], set[Literal["ink", "blind"]]()
    blind = {each.number for each in impressions if each.ink is None}
    usual_mm = settings.sharing_distance_mm
    for one, other in combinations(parts, 2):
        if same_area(one.printing, other.printing):
            same.add("ink" if blind.isdisjoint((one.impression, other.impression)) else "blind")
            continue
        with np.errstate(divide="ignore", invalid="ignore"):
            distance_mm = float(shapely.distance(one.printing, other.printing))
        i, j = index[one.impression], index[other.impression]
        both_masked = wishes.masked >> i & wishes.masked >> j & 1
        needed_mm = min(usual_mm, settings.masked_distance_mm) if both_masked else usual_mm
        if distance_mm < needed_mm:
            findings.append(_near(names[one.impression], names[other.impression], distance_mm, needed_mm))
        apart_mm.append((distance_mm, names[one.impression], names[other.impression], distance_mm < usual_mm))
    turned = [names[part.impression] for part in parts if part.turned]
    return " ".join(_sentences(apart_mm, same=same, turned=turned))


def _sentences(
    apart_mm: Sequence[tuple[float, str, str, bool]],
    *,
    same: Set[Literal["ink", "blind"]],
    turned: Sequence[str],
) -> list[str]:
    """The reasons; ``same`` tells whether one carving serves two inks, or an ink and blind embossing."""
    said = []
    if apart_mm:
        distance_mm, one, other, masked = min(apart_mm)
        if len(apart_mm) == 1:
            said.append(f"{_opening(one)} and {other} share it, {distance_mm:.0f} mm apart.")
        else:
            said.append(
                f"The inks on it are at least {distance_mm:.0f} mm apart; {one} and {other} are the nearest."
            )
        if masked:
            said.append("Ink them through a mask.")
    if "ink" in same:
        said.append("One carving prints more than one ink in turn.")
    if "blind" in same:
        said.append("One carving prints its ink and then, washed and dry, embosses without any.")
    if turned:
        said.append(f"For {_listed(turned)} the block is turned by half, to marks of its own.")
    return said


def _opening(name: str) -> str:
    """A name at the start of a sentence."""
    return name[:1].upper() + name[1:]


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _near(one: str, other: str, distance_mm: float, needed_mm: float) -> Finding:
    return Finding(
        code="shared-near",
        severity="note",
        message=f"{one} and {other} share a face, as you want it, only {distance_mm:.0f} mm apart; "
        f"{needed_mm:g} mm is asked for. Ink them through a mask, or with a small brush.",
        about=(("colour", one), ("other", other)),
    )


def _check_proven(faces: int, at_least: int) -> list[Finding]:
    if at_least >= faces:
        return []
    return [
        Finding(
            code="faces-not-proven",
            severity="note",
            message=f"{faces} faces are the fewest that were found; that at least {at_least} "
            f"{'are' if at_least > 1 else 'is'} needed is proven, and the search ended before it was clear "
            "whether fewer would do.",
        )
    ]


def _check_sharing(faces: int, fewest: int, distance_mm: float) -> list[Finding]:
    if fewest >= faces:
        return []
    return [
        Finding(
            code="faces-could-share",
            severity="note",
            message=f"Every ink has a face of its own, {faces} in all. With {distance_mm:g} mm between "
            f"different inks on one face, sharing could spare at most {faces - fewest} of them: at least "
            f"{fewest} {'are' if fewest > 1 else 'is'} needed.",
        )
    ]

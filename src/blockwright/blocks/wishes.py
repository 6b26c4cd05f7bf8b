"""What the printmaker wants of shared faces: colours kept together, kept apart, or inked through a mask."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from blockwright.blocks.sharing import overlap
from blockwright.model.findings import Finding
from blockwright.model.separation import Impression
from blockwright.model.settings import BlocksTable, Group


@dataclass(frozen=True, slots=True)
class Wishes:
    """The wishes that can be met, in indices of the impressions.

    ``groups`` are the impressions that go to one face together, every impression in one of them and most by
    themselves; ``apart`` pairs of impressions; ``masked`` a bit mask, as are those wanted on part blocks
    (``on_part``) and those that must have a full one (``on_full``).
    """

    groups: tuple[tuple[int, ...], ...]
    apart: tuple[tuple[int, int], ...]
    masked: int
    findings: tuple[Finding, ...] = ()
    on_part: int = 0
    on_full: int = 0


def read_wishes(impressions: Sequence[Impression], settings: BlocksTable) -> Wishes:
    """Find the impressions that the settings name, and drop the wishes that cannot be met, with a finding.

    A colour is named by its name or as ``#rrggbb``, capitals or not, and stands for all its impressions. Two
    colours that are wanted both together and apart stop the work, and are laid out apart meanwhile. Two whose
    areas overlap, or that press different sides of the sheet, cannot stand on one face.
    """
    findings: list[Finding] = []
    apart: set[tuple[int, int]] = set()
    for group in settings.apart:
        named = _find_group(impressions, group, "apart", findings)
        for one, other in combinations(named, 2):
            apart |= {(min(i, j), max(i, j)) for i in one for j in other if i != j}
    home = list(range(len(impressions)))
    for group in settings.together:
        named = _find_group(impressions, group, "together", findings)
        for one, other in combinations(named, 2):
            for i, j in ((i, j) for i in one for j in other if home[i] != home[j]):
                refused = _refused(impressions, home, (i, j), apart)
                if refused is None:
                    home = [home[i] if each == home[j] else each for each in home]
                else:
                    findings.append(refused)
    masked, on_part, on_full = (
        _find_all(impressions, getattr(settings, key), key, findings)
        for key in ("masked", "on_part_block", "on_full_block")
    )
    if both := on_part & on_full:
        findings += [_both_wanted(each) for i, each in enumerate(impressions) if both >> i & 1]
    groups = tuple(
        tuple(i for i, each in enumerate(home) if each == first)
        for first in sorted(set(home), key=home.index)
    )
    told = tuple(dict.fromkeys(findings))
    return Wishes(groups, tuple(sorted(apart)), masked, told, on_part & ~on_full, on_full)


def _find(impressions: Sequence[Impression], name: str) -> tuple[int, ...]:
    wanted = name.strip().casefold()
    return tuple(
        i for i, each in enumerate(impressions) if wanted in (each.name.casefold(), each.srgb_hex.lower())
    )


def _find_all(
    impressions: Sequence[Impression], names: Sequence[str], key: str, findings: list[Finding]
) -> int:
    """The impressions of all these colours as a bit mask; of what is not printed there is a finding."""
    mask = 0
    for name in names:
        found = _find(impressions, name)
        if not found:
            findings.append(_unknown(impressions, name, f"[blocks] {key}"))
        mask |= sum(1 << i for i in found)
    return mask


def _find_group(
    impressions: Sequence[Impression], group: Group, key: str, findings: list[Finding]
) -> list[tuple[int, ...]]:
    """The impressions of each colour of a group that is printed; of the others there is a finding."""
    found = [_find(impressions, name) for name in group.inks]
    findings += [
        _unknown(impressions, name, f"[[blocks.{key}]]")
        for name, each in zip(group.inks, found, strict=True)
        if not each
    ]
    return [each for each in found if each]


def _refused(
    impressions: Sequence[Impression], home: Sequence[int], pair: tuple[int, int], apart: set[tuple[int, int]]
) -> Finding | None:
    """Why the groups of two impressions cannot go to one face, or None."""
    ones, others = ([k for k, each in enumerate(home) if each == home[i]] for i in pair)
    pairs = [(i, j) for i in ones for j in others]
    for i, j in pairs:
        if (min(i, j), max(i, j)) in apart:
            return _contradiction(impressions[i], impressions[j], through=(i, j) not in (pair, pair[::-1]))
    for i, j in pairs:
        if impressions[i].side != impressions[j].side:
            return _other_side(impressions[i], impressions[j])
        if overlap(impressions[i].area, impressions[j].area):
            return _overlapping(impressions[i], impressions[j])
    return None


def _contradiction(one: Impression, other: Impression, *, through: bool) -> Finding:
    how = " through other colours" if through else ""
    return Finding(
        code="sharing-contradicts",
        severity="stop",
        message=f"print.toml wants {one.name} and {other.name} on one face by [[blocks.together]]{how} "
        "and keeps them apart by [[blocks.apart]]; take one of the two out.",
        about=(("colour", one.name), ("other", other.name)),
    )


def _both_wanted(impression: Impression) -> Finding:
    return Finding(
        code="part-contradicts",
        severity="stop",
        message=f"print.toml wants {impression.name} on a part block by on_part_block and on a full one by "
        "on_full_block, both in [blocks]; take it out of one of the two.",
        about=(("colour", impression.name),),
    )


def _overlapping(one: Impression, other: Impression) -> Finding:
    return Finding(
        code="cannot-share",
        severity="warn",
        message=f"{one.name} and {other.name} print over one another, so no face can carry both; "
        "that line of [[blocks.together]] does nothing.",
        about=(("colour", one.name), ("other", other.name)),
    )


def _other_side(one: Impression, other: Impression) -> Finding:
    return Finding(
        code="cannot-share",
        severity="warn",
        message=f"{one.name} and {other.name} press different sides of the sheet, so no face can carry both; "
        "that line of [[blocks.together]] does nothing.",
        about=(("colour", one.name), ("other", other.name)),
    )


def _unknown(impressions: Iterable[Impression], name: str, setting: str) -> Finding:
    known = ", ".join(f"{each.name} ({each.srgb_hex})" for each in impressions)
    return Finding(
        code="sharing-unknown-colour",
        severity="warn",
        message=f"No colour called {name} is printed, so {setting} does nothing for it. "
        f"Printed colours: {known or 'none'}.",
        about=(("colour", name),),
    )

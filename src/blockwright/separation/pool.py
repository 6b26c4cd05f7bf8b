"""Inks worth trying: what would give a colour on the bare paper, or over another colour of the design."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import delta_e00, layer_reflectance, reflectance_to_lab
from blockwright.colour.recipes import find_recipes
from blockwright.colour.wanted import wanted_colour
from blockwright.model.errors import InkError
from blockwright.model.units import Lab
from blockwright.separation.asked import Asked
from blockwright.separation.coats import Coat, Paintbox, light_to_dark
from blockwright.separation.stacks import MOST_STACKS, count_stacks

Values = NDArray[np.float64]

_STEP_L = 2.0
"""An ink darkens: one for a colour over another is looked for where it is darker by this much in L*."""

_ALIKE_DELTA_E00 = 1.0
"""Two coats are one where they look this much alike on the paper and over its middle greys."""

_PROBES = (1.0, 0.35)
"""Parts of the paper's light on which coats are compared."""


def mix_for(box: Paintbox, lab: Values, ground: Values, parts: Sequence[int] = ()) -> Coat | None:
    """The mixture that comes nearest a colour over a ground; None where no recipe can be looked for.

    ``parts`` are the places of the pigments that it is mixed from, without any the usual ones.
    """
    own = [box.pigments[k] for k in parts or box.usual or range(len(box.pigments))]
    place = {pigment.name: k for k, pigment in enumerate(box.pigments)}
    wanted: Lab = (float(lab[0]), float(lab[1]), float(lab[2]))
    try:
        found = find_recipes(
            own,
            wanted_colour(wanted),
            ground,
            passes=None,
            most_pigments=min(box.most_pigments, len(own)),
            least_paste_share=1.0 - box.most_share,
            most_recipes=1,
        ).recipes[0]
    except InkError:
        return None
    held = [(place[part.pigment], part.share) for part in found.parts if part.share > 0.0]
    if not held:
        return None
    return box.coat([p for p, _ in held], [share for _, share in held], found.passes)


def coat_for(asked: Asked, box: Paintbox, colour: int, ground: Values) -> Coat | None:
    """The mixture that comes nearest one of the colours over a ground, from the pigments decided for it.

    None where a mixed ink of the shelf is to print it.
    """
    only = asked.only_of(colour)
    if only is not None and only.shelf_number is not None:
        return None
    return mix_for(box, asked.targets[colour], ground, only.parts if only is not None else ())


def decided_coats(asked: Asked, taken: Sequence[Coat]) -> list[Coat]:
    """For each colour that a mixed ink of the shelf is to print, that ink in the passes that come nearest."""
    coats: list[Coat] = []
    for only in asked.only:
        own = [coat for coat in taken if only.shelf_number is not None and only.allows(coat)]
        # Two colours in one ink differ in their passes.
        own = [coat for coat in own if coat not in coats]
        if own:
            looks = reflectance_to_lab(np.array([seen_over(coat, asked.paper) for coat in own]))
            coats.append(own[int(np.argmin(np.round(delta_e00(looks, asked.targets[only.colour]), 6)))])
    return coats


def seen_over(coat: Coat, ground: Values) -> Values:
    """The reflectance of a coat over a ground."""
    return layer_reflectance(coat.k, coat.s, 1.0, ground)


def first_coats(asked: Asked, box: Paintbox) -> list[Coat]:
    """One mixture for every colour, on the bare paper."""
    coats = (coat_for(asked, box, colour, asked.paper) for colour in range(len(asked.targets)))
    return [coat for coat in coats if coat is not None]


def coats_between(asked: Asked, box: Paintbox, grounds: Sequence[Values]) -> list[Coat]:
    """Mixtures that give each colour over each lighter ground, (36,) each, where they come near."""
    found = []
    labs = reflectance_to_lab(np.array(grounds)) if grounds else np.empty((0, 3))
    for colour, (target, limit) in enumerate(zip(asked.targets, asked.limits.tolist(), strict=True)):
        for ground, lab in zip(grounds, labs, strict=True):
            if lab[0] - target[0] < _STEP_L:
                continue
            coat = coat_for(asked, box, colour, ground)
            if coat is None:
                continue
            off = float(delta_e00(reflectance_to_lab(seen_over(coat, ground)), target))
            if off <= 1.5 * limit:
                found.append(coat)
    return found


def distinct(coats: Iterable[Coat], asked: Asked, *, alike: float = _ALIKE_DELTA_E00) -> list[Coat]:
    """The coats without those that look like an earlier one, where both may print the same colours."""
    paper = asked.paper
    given = list(coats)
    if not given:
        return []
    k, s = np.array([coat.k for coat in given]), np.array([coat.s for coat in given])
    looks = reflectance_to_lab(
        np.stack([layer_reflectance(k, s, 1.0, part * paper) for part in _PROBES], axis=1)
    )
    kept: list[int] = []
    kind = [tuple(only.allows(coat) for only in asked.only) for coat in given]
    for place, look in enumerate(looks):
        like = [other for other in kept if kind[other] == kind[place]]
        if not like or float(delta_e00(looks[like], look).max(axis=1).min()) >= alike:
            kept.append(place)
    return [given[place] for place in kept]


def most_useful(
    asked: Asked, always: Sequence[Coat], others: Sequence[Coat], grounds: Sequence[Values]
) -> list[Coat]:
    """As many coats as can be searched in one go, in printing order: ``always``, then the most useful.

    A coat is the more useful the more colours of the design it gives over one of the grounds.
    """
    own = {id(coat) for coat in always}
    others = [coat for coat in others if id(coat) not in own]
    room = len(always)
    while room < len(always) + len(others) and count_stacks(room + 1, asked.most_layers) <= MOST_STACKS:
        room += 1
    rated = sorted(range(len(others)), key=lambda k: (-_colours_given(asked, others[k], grounds), k))[
        : room - len(always)
    ]
    pool = light_to_dark([*always, *(others[k] for k in sorted(rated))], asked.paper)
    # Those of a plan keep its order, which may differ by a hair from what their lightness now says.
    following = iter(always)
    return [next(following) if id(coat) in own else coat for coat in pool]


def useful_first(asked: Asked, coats: Sequence[Coat], grounds: Sequence[Values]) -> list[Coat]:
    """Coats by how many colours of the design they give over one of the grounds, the most first."""
    rated = sorted(range(len(coats)), key=lambda k: (-_colours_given(asked, coats[k], grounds), k))
    return [coats[k] for k in rated]


def _colours_given(asked: Asked, coat: Coat, grounds: Sequence[Values]) -> float:
    seen = reflectance_to_lab(layer_reflectance(coat.k, coat.s, 1.0, np.array(grounds)))
    apart = delta_e00(seen[:, None, :], asked.targets[None, :, :])
    near = np.clip(1.0 - apart / (2.0 * asked.limits), 0.0, 1.0)
    return float(near.max(axis=0).sum())

"""What each overprinted colour looks like: how near the design by day, and under other lights.

A colour of the design is known as a colour by day alone. Under another light it is compared with the calmest
reflectance that has it, as recipes are (:mod:`blockwright.colour.recipes`).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import delta_e00, reflectance_to_lab
from blockwright.colour.recipes import OTHER_LIGHT_DELTA_E00, OTHER_LIGHTS
from blockwright.colour.wanted import wanted_colour
from blockwright.model.errors import InkError
from blockwright.model.findings import Finding
from blockwright.model.separation import LiesOver, OtherLight
from blockwright.model.units import Lab
from blockwright.separation.asked import Asked, Plan
from blockwright.separation.plan import Coloured
from blockwright.separation.pool import seen_over

Values = NDArray[np.float64]

_MOST_NAMED = 3
"""Colours that one sentence names."""

_LIGHT_WORDS = {"A": "lamp light", "FL11": "shop light"}
"""The other lights, as they are called."""


def lies_over(
    work: Coloured, asked: Asked, plan: Plan, names: Sequence[str], *, ideal: bool
) -> tuple[LiesOver, ...]:
    """Every colour that more than one coat gives, and the colour that it lies over.

    ``ideal`` tells that inks stand for some that are mixed to match, of which no spectrum is known.
    """
    palette = work.design.palette
    known = {stack: palette[work.printed[colour]].name for colour, stack in enumerate(plan.stacks)}
    told = []
    for colour, stack in enumerate(plan.stacks):
        if len(stack) < 2:
            continue
        seen = asked.paper
        for coat in stack:
            seen = seen_over(plan.coats[coat], seen)
        wanted = palette[work.printed[colour]]
        told.append(
            LiesOver(
                colour=wanted.name,
                inks=tuple(names[coat] for coat in stack),
                over=known.get(stack[:-1]),
                delta_e00=float(plan.delta_e00[colour]),
                other_lights=() if ideal else under_other_lights(seen, wanted.lab),
            )
        )
    return tuple(told)


def under_other_lights(seen: Values, wanted: Lab) -> tuple[OtherLight, ...]:
    """How far a reflectance, (36,), is from a colour that is known by day, under each of the other lights.

    None where the colour is one that no surface has.
    """
    try:
        calm = wanted_colour(wanted).reflectance
    except InkError:
        return ()
    return tuple(
        OtherLight(light, float(delta_e00(reflectance_to_lab(seen, light), reflectance_to_lab(calm, light))))
        for light in OTHER_LIGHTS
    )


def other_light_remarks(work: Coloured, lies: Sequence[LiesOver]) -> list[Finding]:
    """One finding on the overprints that match by day and part under another light."""
    apart = [
        (each, worst)
        for each in lies
        if (worst := each.worst_light) is not None
        and worst.delta_e00 - each.delta_e00 > OTHER_LIGHT_DELTA_E00
    ]
    if not apart:
        return []
    apart.sort(key=lambda pair: (pair[0].delta_e00 - pair[1].delta_e00, pair[0].colour))
    named = [
        f"{each.colour} by {worst.delta_e00:.1f} under {_LIGHT_WORDS[worst.light]}, "
        f"{each.delta_e00:.1f} by day"
        for each, worst in apart[:_MOST_NAMED]
    ]
    more = len(apart) - _MOST_NAMED
    message = f"Overprints that match by day may differ under other lights (CIEDE2000): {'; '.join(named)}"
    message += f"; and {more} more" if more > 0 else ""
    message += ". Each is compared with a calm colour like it. Look at a trial of them there."
    first = apart[0][0].colour
    place = next(work.place(c) for c in work.printed if work.design.palette[c].name == first)
    return [Finding("overprint-other-light", "note", message, place, (("colour", first),))]

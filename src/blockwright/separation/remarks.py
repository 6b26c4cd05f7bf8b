"""What a careful colleague would say about a plan of overprints."""

from dataclasses import replace

import numpy as np

from blockwright.model.findings import Finding
from blockwright.model.separation import LiesOver, OutOfReach, Overprints
from blockwright.model.settings import SeparationTable
from blockwright.separation.asked import WITHIN, Asked, Plan
from blockwright.separation.plan import Coloured
from blockwright.separation.searching import Found

_MOST_NAMED = 3
"""Colours that one sentence names."""


def remarks_on(
    work: Coloured,
    settings: SeparationTable,
    asked: Asked,
    found: Found,
    plan: Plan,
    summary: Overprints,
    solids: list[int],
    *,
    beside: int = 0,
) -> list[Finding]:
    """What was saved and how surely, what is missed, and what wets the sheet."""
    remarks = []
    if settings.block_count is not None and settings.block_count != plan.blocks:
        remarks.append(_no_such_count(settings.block_count, summary))
    missed = _missed(work, asked, plan, settings)
    if missed and found.sketched:
        missed = replace(missed, message=f"{missed.message} {_SKETCHED}")
    remarks.append(missed or _saved(asked, plan, summary, found, beside))
    if summary.out_of_reach:
        remarks.append(_out_of_reach(work, asked, plan, summary))
    elif asked.mean_limit > asked.limit_delta_e00:
        remarks.append(_mean_out_of_reach(asked, plan))
    if solids:
        times = "One solid block follows" if len(solids) == 1 else f"{len(solids)} solid blocks follow"
        message = (
            f"{times} another in the printing order, and no other order keeps the colours; let the sheets "
        )
        message += "rest between them, or the paper soddens."
        remarks.append(Finding("solid-after-solid", "note", message))
    return remarks


def said_over(each: LiesOver) -> str:
    """How a colour is given, in words.

    >>> said_over(LiesOver("slate", ("pale ochre", "blue"), "pale ochre"))
    'slate lies over pale ochre'
    >>> said_over(LiesOver("slate", ("buff", "blue"), None))
    'slate is buff and blue over one another'
    """
    if each.over is not None:
        return f"{each.colour} lies over {each.over}"
    first = ", ".join(each.inks[:-1])
    return f"{each.colour} is {first} and {each.inks[-1]} over one another"


def _saved(asked: Asked, plan: Plan, summary: Overprints, found: Found, beside: int) -> Finding:
    blocks = f"{summary.blocks} {'block prints' if summary.blocks == 1 else 'blocks print'}"
    worst = float(plan.delta_e00[~asked.out_of_reach].max(initial=0.0))
    message = f"{blocks} these {summary.colours} colours, "
    message += "the worst that can be reached" if summary.out_of_reach else "the worst"
    message += f" within {worst:.1f} (CIEDE2000)"
    plainly = sorted(summary.lies_over, key=lambda each: (each.over is None, len(each.inks)))
    if plainly:
        message += f": {', '.join(said_over(each) for each in plainly[:_MOST_NAMED])}"
        more = len(plainly) - _MOST_NAMED
        message += f", and {more} more" if more > 0 else ""
    message = f"{message}. {_how_surely(summary, found)}"
    if beside:
        others = "1 more is" if beside == 1 else f"{beside} more are"
        message += (
            f" {others} printed by {'itself' if beside == 1 else 'themselves'}: gradations and line work."
        )
    return Finding("blocks-saved", "note", message)


def _out_of_reach(work: Coloured, asked: Asked, plan: Plan, summary: Overprints) -> Finding:
    """What to say of colours that no inks at hand can print, and of the others beside them."""
    far = sorted(summary.out_of_reach, key=lambda each: -each.best_delta_e00)
    named = [_best_of(each) for each in far[:_MOST_NAMED]]
    more = len(far) - _MOST_NAMED
    message = f"Out of reach of the inks at hand: {'; '.join(named)}"
    message += f"; and {more} more" if more > 0 else ""
    message += f" (CIEDE2000; allowed {asked.worst_delta_e00:g}). "
    layers = "1 layer" if asked.most_layers == 1 else f"up to {asked.most_layers} layers"
    message += f"Every choice of those inks in {layers} was looked at, and the nearest were fitted. "
    rest = plan.delta_e00[~asked.out_of_reach]
    if len(rest):
        kept = bool((rest <= asked.worst_delta_e00 * WITHIN).all())
        message += "All other colours are held to the limit"
        message += f"{' and keep it' if kept else ', but not all keep it with so few blocks'}."
    worst = next(c for c in work.printed if work.design.palette[c].name == far[0].colour)
    about = (("colour", far[0].colour), ("worst_delta_e00", round(far[0].delta_e00 + 0.05, 1)))
    return Finding("overprints-out-of-reach", "warn", message, work.place(worst), about)


def _mean_out_of_reach(asked: Asked, plan: Plan) -> Finding:
    """What to say where each colour keeps its limit, and the mean of them cannot."""
    assert asked.reach is not None
    best, mean = float(asked.counted @ asked.reach), float(asked.counted @ plan.delta_e00)
    message = f"The mean over the area is out of reach of the inks at hand: {asked.limit_delta_e00:g} "
    message += f"(CIEDE2000) is asked for, the nearest they can come is {best:.1f}, and the plan misses the "
    message += f"design by {mean:.1f}. No colour is missed by more than {float(plan.delta_e00.max()):.1f}."
    about = (("limit_delta_e00", round(mean + 0.05, 1)),)
    return Finding("overprints-out-of-reach", "warn", message, None, about)


def _best_of(each: OutOfReach) -> str:
    tried = f"{each.tried} inks tried" if each.tried != 1 else "1 ink tried"
    message = f"{each.colour}, to which the {tried} come no nearer than {each.best_delta_e00:.1f}"
    if each.delta_e00 > each.best_delta_e00 + 0.05:
        message += f" and which is printed within {each.delta_e00:.1f}"
    return message


_SKETCHED = (
    "This is a sketch from the overprints that were found for other colours; the whole run searches anew."
)


def _how_surely(summary: Overprints, found: Found) -> str:
    if found.sketched:
        return _SKETCHED
    fewest = None if found.fewest is None else found.points[found.fewest].plan.blocks
    if fewest is None or summary.blocks != fewest:
        return f"Fewer than {summary.lower_bound} cannot print so many colours, whatever the inks."
    if summary.proven:
        return (
            f"Proven: of the {summary.tried} inks tried, as they are mixed, no fewer can; other inks might, "
            f"but never fewer than {summary.lower_bound}."
        )
    return (
        f"Not proven to be the fewest: of the {summary.tried} inks tried at least {summary.tried_bound} are "
        f"needed, and never fewer than {summary.lower_bound}, whatever the inks."
    )


def _no_such_count(asked_for: int, summary: Overprints) -> Finding:
    there = ", ".join(str(point.blocks) for point in summary.curve)
    message = f"No plan of {asked_for} blocks was found that is worth having; {summary.blocks} were taken. "
    message += f"Plans were found of {there} blocks."
    return Finding("block-count-not-there", "warn", message, about=(("block_count", summary.blocks),))


def _missed(work: Coloured, asked: Asked, plan: Plan, settings: SeparationTable) -> Finding | None:
    """What to say when the plan that was taken does not keep within the limits."""
    if asked.strain(plan.delta_e00) <= WITHIN:
        return None
    far = asked.out_of_reach
    told = ~far if far.any() and not far.all() else np.ones(len(far), dtype=np.bool_)
    mean = float(np.average(plan.delta_e00[told], weights=asked.area[told]))
    worst = float(plan.delta_e00[told].max())
    off = sorted(
        (colour for colour in range(len(plan.stacks)) if plan.delta_e00[colour] > asked.limits[colour]),
        key=lambda colour: -plan.delta_e00[colour],
    )
    palette = work.design.palette
    message = (
        "No overprints within the limits were found" if settings.block_count is None else "So few blocks"
    )
    message += f"; the best of {plan.blocks} blocks" if settings.block_count is None else ""
    message += (
        f" {'misses' if settings.block_count is None else 'miss'} the design by {mean:.1f} in the mean "
    )
    message += f"and {worst:.1f} at worst (CIEDE2000; allowed {asked.limit_delta_e00:g} and "
    message += f"{asked.worst_delta_e00:g}{'; without what is out of reach' if not told.all() else ''})"
    if off:
        named = [f"{palette[work.printed[c]].name} by {plan.delta_e00[c]:.1f}" for c in off[:_MOST_NAMED]]
        more = len(off) - _MOST_NAMED
        message += f": {', '.join(named)}{f', and {more} more' if more > 0 else ''}"
    place = work.place(work.printed[off[0]]) if off else None
    about = (("blocks", plan.blocks), ("worst_delta_e00", round(worst + 0.05, 1)))
    return Finding("overprints-miss", "warn", f"{message}.", place, about)

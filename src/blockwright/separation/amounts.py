"""The amounts of ink at which a plan comes nearest the design: least squares in CIEDE2000.

The unknowns are the logarithms of all shares of all mixtures at once; the residuals are the three parts of
CIEDE2000 of every colour (:mod:`blockwright.colour.slopes`). Damped Gauss-Newton steps (Levenberg 1944,
Marquardt 1963) with exact slopes through the stack of layers. Colours that are far off weigh more from round
to round, so that the worst comes nearer at the cost of the good ones (iteratively reweighted least squares).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.colour import delta_e00
from blockwright.colour.slopes import film, lab_of, parts_e00, slopes_e00
from blockwright.colour.spectra import weights
from blockwright.separation.coats import MOST_IN_A_COAT, Coat, Paintbox

Values = NDArray[np.float64]

LEAST_SHARE = 1e-6
"""No part of a mixture falls below this share of the film; who has it is left out in the end."""

_LONGEST_STEP = 1.0
"""The longest change of a logarithm in one step."""

_LEAST_GAIN = 1e-3
"""A step that gains less than this part of what is left is the last but one."""

_ROUNDS, _STEPS = 3, 12
"""Rounds of weighing the colours anew, and steps in each."""

_PULL = 1e-4
"""How strongly a logarithm is held where it is: what no colour depends on does not wander off."""


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """Coats with the amounts found, what each colour looks like then, (colours, 3), and how far off it is."""

    coats: tuple[Coat, ...]
    lab: Values
    delta_e00: Values


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _ground_slope(k: Any, s: Any, seen: Any, ground: Any, slope: Any) -> None:
    """The slope of a film's reflectance by that of its ground."""
    for band in range(k.shape[0]):
        a = np.sqrt(k[band] * (k[band] + 2.0 * s[band]))
        t = np.tanh(a) / a if a > 1e-6 else 1.0
        both = k[band] + s[band]
        below = 1.0 + (both - s[band] * ground[band]) * t
        slope[band] = (1.0 - both * t + seen[band] * s[band] * t) / below


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _look(scene: Any, shares: Any, residuals: Any, slopes: Any, labs: Any, steep: bool) -> float:
    """Weighted residuals of all colours, and with ``steep`` their slopes by log share; the sum of squares."""
    base_k, base_s, part_k, part_s, stacks, paper, light, white, targets, weight = scene
    coats, parts, bands = part_k.shape
    colours, deep = stacks.shape
    k, s = base_k.copy(), base_s.copy()
    for coat in range(coats):
        for part in range(parts):
            for band in range(bands):
                k[coat, band] += shares[coat, part] * part_k[coat, part, band]
                s[coat, band] += shares[coat, part] * part_s[coat, part, band]
    by_k, by_s, by_g = np.empty((deep, bands)), np.empty((deep, bands)), np.empty((deep, bands))
    seen = np.empty((deep + 1, bands))
    xyz, cube, three = np.empty(3), np.empty(3), np.empty(3)
    by_lab, to_xyz = np.empty((3, 3)), np.empty(3)
    chain = np.empty(bands)
    total = 0.0
    if steep:
        slopes[:, :] = 0.0
    for colour in range(colours):
        seen[0] = paper
        top = 0
        while top < deep and stacks[colour, top] >= 0:
            coat = stacks[colour, top]
            film(k[coat], s[coat], seen[top], by_k[top], by_s[top], seen[top + 1])
            if steep:
                _ground_slope(k[coat], s[coat], seen[top + 1], seen[top], by_g[top])
            top += 1
        for axis in range(3):
            value = 0.0
            for band in range(bands):
                value += seen[top, band] * light[axis, band]
            xyz[axis] = value
        lab_of(xyz, white, labs[colour], cube)
        parts_e00(labs[colour], targets[colour], three)
        for row in range(3):
            residuals[3 * colour + row] = weight[colour] * three[row]
            total += residuals[3 * colour + row] ** 2
        if not steep:
            continue
        slopes_e00(labs[colour], targets[colour], by_lab)
        chain[:] = 1.0
        for layer in range(top - 1, -1, -1):
            coat = stacks[colour, layer]
            for part in range(parts):
                share = shares[coat, part]
                if share <= 0.0:
                    continue
                for axis in range(3):
                    to_xyz[axis] = 0.0
                for band in range(bands):
                    change = chain[band] * (
                        by_k[layer, band] * part_k[coat, part, band]
                        + by_s[layer, band] * part_s[coat, part, band]
                    )
                    for axis in range(3):
                        to_xyz[axis] += change * light[axis, band]
                x, y, z = cube[0] * to_xyz[0], cube[1] * to_xyz[1], cube[2] * to_xyz[2]
                d_l, d_a, d_b = 116.0 * y, 500.0 * (x - y), 200.0 * (y - z)
                for row in range(3):
                    slopes[3 * colour + row, coat * parts + part] = (
                        weight[colour]
                        * share
                        * (by_lab[row, 0] * d_l + by_lab[row, 1] * d_a + by_lab[row, 2] * d_b)
                    )
            for band in range(bands):
                chain[band] *= by_g[layer, band]
    return total


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _step(slopes: Any, residuals: Any, free: Any, damping: float) -> Any:
    """The damped step of the free unknowns.

    Plain loops: what a library of linear algebra gives depends on its threads in the last digits.
    """
    count, rows = len(free), len(residuals)
    normal, right = np.zeros((count, count)), np.zeros(count)
    for row in range(rows):
        for i in range(count):
            one = slopes[row, free[i]]
            if one == 0.0:
                continue
            right[i] -= one * residuals[row]
            for j in range(i, count):
                normal[i, j] += one * slopes[row, free[j]]
    for i in range(count):
        normal[i, i] += damping * normal[i, i] + _PULL * (1.0 + damping)
    # Elimination without pivots: the matrix is symmetric and positive; its upper half is enough.
    for i in range(count):
        for row in range(i + 1, count):
            factor = normal[i, row] / normal[i, i]
            if factor != 0.0:
                for column in range(row, count):
                    normal[row, column] -= factor * normal[i, column]
                right[row] -= factor * right[i]
    for i in range(count - 1, -1, -1):
        for column in range(i + 1, count):
            right[i] -= normal[i, column] * right[column]
        right[i] /= normal[i, i]
    return right


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    """All that stays while amounts are searched, as arrays."""

    base: tuple[Values, Values]
    part: tuple[Values, Values]
    stacks: NDArray[np.int64]
    paper: Values
    targets: Values

    def with_weight(self, weight: Values) -> tuple[Any, ...]:
        """What compiled code takes."""
        light = np.ascontiguousarray(weights("D65").T)
        return (
            *self.base,
            *self.part,
            self.stacks,
            self.paper,
            light,
            light.sum(axis=1),
            self.targets,
            weight,
        )


def _scene(
    coats: Sequence[Coat], stacks: Sequence[Sequence[int]], box: Paintbox, paper: Values, targets: Values
) -> tuple[_Scene, Values]:
    """The scene, and the shares to start from, shape (coats, parts)."""
    count, bands = len(coats), len(paper)
    base_k, base_s = np.zeros((count, bands)), np.zeros((count, bands))
    width = max([MOST_IN_A_COAT, *(len(coat.parts) for coat in coats)])
    part_k, part_s = np.zeros((count, width, bands)), np.zeros((count, width, bands))
    shares = np.zeros((count, width))
    for i, coat in enumerate(coats):
        if coat.taken is not None:
            base_k[i], base_s[i] = coat.k, coat.s
            continue
        k, s, _ = box.film(coat.passes)
        held = len(coat.parts)
        part_k[i, :held], part_s[i, :held] = k[list(coat.parts)], s[list(coat.parts)]
        shares[i, :held] = np.maximum(coat.shares, LEAST_SHARE)
    deep = max([1, *(len(stack) for stack in stacks)])
    table = np.full((len(stacks), deep), -1, dtype=np.int64)
    for row, stack in zip(table, stacks, strict=True):
        row[: len(stack)] = stack
    return _Scene((base_k, base_s), (part_k, part_s), table, np.array(paper), np.array(targets)), shares


def _descend(scene: tuple[Any, ...], shares: Values, most_share: float, steps: int) -> Values:
    """Damped Gauss-Newton steps from some shares; the best that were met."""
    colours = len(scene[4])
    free = np.flatnonzero(shares.ravel() > 0.0)
    residuals, labs = np.empty(3 * colours), np.empty((colours, 3))
    slopes = np.zeros((3 * colours, shares.size))
    cost = _look(scene, shares, residuals, slopes, labs, True)
    damping, idle = 1e-3, 0
    for _ in range(steps):
        step = np.clip(_step(slopes, residuals, free, damping), -_LONGEST_STEP, _LONGEST_STEP)
        there = shares.ravel().copy()
        there[free] = np.maximum(there[free] * np.exp(step), LEAST_SHARE)
        tried = there.reshape(shares.shape)
        tried *= np.minimum(1.0, most_share / np.maximum(tried.sum(axis=1), 1e-300))[:, None]
        tried = np.where(shares > 0.0, np.maximum(tried, LEAST_SHARE), 0.0)
        new_cost = _look(scene, tried, residuals, slopes, labs, True)
        if new_cost < cost:
            idle = idle + 1 if cost - new_cost < _LEAST_GAIN * cost else 0
            shares, cost, damping = tried, new_cost, max(damping / 6.0, 1e-9)
            if idle == 2:
                break
        else:
            damping = max(5.0 * damping, 1e-2)
            if damping > 1e6:
                break
            cost = _look(scene, shares, residuals, slopes, labs, True)
    return shares


def fit_amounts(
    coats: Sequence[Coat],
    stacks: Sequence[Sequence[int]],
    box: Paintbox,
    paper: Values,
    targets: Values,
    *,
    leeway: Values | None = None,
    rounds: int = _ROUNDS,
    steps: int = _STEPS,
) -> Fitted:
    """Move the shares of all mixtures so that the stacks, one a colour, come nearest the targets (Lab).

    ``stacks`` are places among the coats, the lowest first. Coats from the shelf stay as they are; a coat
    that is in no stack stays too. Of several rounds the one with the least worst difference is kept.
    ``leeway``, (colours,), is how many times farther off than others each colour may be.
    """
    scene, shares = _scene(coats, stacks, box, paper, targets)
    colours = len(stacks)
    room = np.ones(colours) if leeway is None else leeway
    weight = 1.0 / room
    residuals, labs, slopes = np.empty(3 * colours), np.empty((colours, 3)), np.empty((0, 0))
    best: tuple[float, Values, Values, Values] | None = None
    for round_ in range(rounds + 1):
        _look(scene.with_weight(np.ones(colours)), shares, residuals, slopes, labs, False)
        apart = delta_e00(labs, targets)
        strained = apart / room
        worst = float(strained.max(initial=0.0))
        if best is None or worst < best[0]:
            best = (worst, shares, labs.copy(), apart)
        if round_ == rounds or not (shares > 0.0).any():
            break
        if round_:
            uneven = strained / max(float(strained.mean()), 1e-9)
            weight = np.clip(weight * np.sqrt(uneven + 0.05), 0.1, 20.0)
            weight /= weight.mean()
        shares = _descend(scene.with_weight(weight), shares, box.most_share, steps)
    assert best is not None
    mixed = tuple(
        box.mixed_anew(coat, row[: len(coat.parts)].tolist())
        for coat, row in zip(coats, best[1], strict=True)
    )
    return Fitted(mixed, best[2], best[3])

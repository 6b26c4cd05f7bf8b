"""Colours that known inks print over one another: a search must not need more inks than that."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    lab_to_hex,
    reflectance_to_lab,
    stack_reflectance,
)
from blockwright.colour.pigments import starter_pigments
from blockwright.separation.asked import Asked, Lies
from blockwright.separation.coats import Coat, Paintbox, light_to_dark

PAPER_HEX = "#f6efdf"
PAPER = colour_reflectance(PAPER_HEX)
BOX = Paintbox(tuple(sorted(starter_pigments(), key=lambda each: each.name)), 0.8)


@dataclass(frozen=True)
class Known:
    """Inks, the stacks that print each colour, and the colours as ``#rrggbb``."""

    coats: tuple[Coat, ...]
    stacks: tuple[tuple[int, ...], ...]
    hexes: tuple[str, ...]

    @property
    def labs(self) -> NDArray[np.float64]:
        return np.array([hex_to_lab(each) for each in self.hexes])


def seen(coats: tuple[Coat, ...] | list[Coat], stack: tuple[int, ...]) -> NDArray[np.float64]:
    return reflectance_to_lab(stack_reflectance(PAPER, [(coats[j].k, coats[j].s, 1.0) for j in stack]))


def some_inks(rng: np.random.Generator, count: int) -> list[Coat]:
    """Transparent mixtures of one to three pigments, from pale to strong."""
    coats: list[Coat] = []
    k, s, _ = BOX.film(1)
    while len(coats) < count:
        chosen = rng.choice(len(BOX.pigments), rng.integers(1, 4), replace=False)
        strength = np.exp(rng.uniform(np.log(0.08), np.log(1.6)))
        shares = rng.dirichlet(np.ones(len(chosen))) / k[chosen].max(axis=1) * strength
        if shares.sum() <= BOX.most_share and (shares @ s[chosen]).max() <= 0.25:
            coats.append(BOX.coat(chosen.tolist(), shares.tolist(), 1))
    return light_to_dark(coats, PAPER)


def known(seed: int, *, inks: int, colours: int, layers: int = 3) -> Known:
    """A design that so many inks print: well apart colours, each of up to ``layers`` inks, every ink used."""
    rng = np.random.default_rng(seed)
    while True:
        coats = some_inks(rng, inks)
        tried = {
            tuple(sorted(rng.choice(inks, rng.integers(1, min(layers, inks) + 1), replace=False).tolist()))
            for _ in range(400)
        }
        stacks: list[tuple[int, ...]] = []
        labs: list[NDArray[np.float64]] = []
        for stack in rng.permutation(np.array(sorted(tried), dtype=object)).tolist():
            lab = seen(coats, tuple(stack))
            others = [reflectance_to_lab(PAPER), *labs]
            if lab[0] > 14.0 and min(float(delta_e00(lab, other)) for other in others) > 6.0:
                stacks.append(tuple(stack))
                labs.append(lab)
            if len(stacks) == colours:
                break
        if len(stacks) == colours and {j for stack in stacks for j in stack} == set(range(inks)):
            # As a picture has them: in 8 bits.
            return Known(tuple(coats), tuple(stacks), tuple(lab_to_hex(lab) for lab in labs))


def asked_for(
    labs: NDArray[np.float64], *, limit: float = 3.0, layers: int = 4, lies: tuple[Lies, ...] = ()
) -> Asked:
    area = np.full(len(labs), 1.0 / len(labs))
    return Asked(PAPER, labs, area, limit, limit, layers, lies)

"""Predict every shape's colour and the risk of the register, in numbers."""

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour import delta_e00, hex_to_srgb, linear_to_lab, srgb_to_linear, stack_reflectance
from blockwright.model.design import Design
from blockwright.model.findings import Finding
from blockwright.model.proof import Proof, ShapeProof
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import ProofTable
from blockwright.model.units import Lab
from blockwright.proof.register import gaping_edges, risk_percent, trap_for_probability

FILM_PART = 0.1
"""How much thicker or thinner than meant the film may come out, as a part [CP]: one pull to the next."""

FAR_OFF_DELTA_E00 = 5.0
"""Shapes predicted farther than this from the design (CIEDE2000) are pointed out [CP]."""

HIGH_RISK_PERCENT = 5.0
"""A register risk above this share of the edges is pointed out [CP]."""

_COLOUR_CODES = ("lighter-than-paper", "colour-out-of-reach")
"""Findings of the separation that tell of a colour's difference."""

Stack = tuple[int, ...]
"""Places in the tuple of impressions, the first printed first."""


def _stacks(design: Design, impressions: Sequence[Impression]) -> list[Stack]:
    """For every shape the impressions that print it.

    An impression prints a shape that it lists, if its area really covers the shape's inside point. Traps are
    left out even where a shape is so narrow that they meet beneath it.
    """
    places = np.array([shape.at for shape in design.shapes], dtype=np.float64).reshape(-1, 2)
    layers: defaultdict[int, list[int]] = defaultdict(list)
    for i, impression in enumerate(impressions):
        listed = np.array(impression.shapes, dtype=np.int64)
        shapely.prepare(impression.area)
        covered = listed[shapely.contains_xy(impression.area, places[listed])]
        for shape in covered.tolist():
            layers[shape].append(i)
    return [tuple(layers[shape]) for shape in range(len(design.shapes))]


def _stack_labs(
    paper: NDArray[np.float64], impressions: Sequence[Impression], stack: Stack
) -> NDArray[np.float64]:
    """CIELAB of a stack as meant, with a thicker film and with a thinner one; shape (3, 3)."""
    films = np.array([1.0, 1.0 + FILM_PART, 1.0 - FILM_PART])[:, np.newaxis]
    layers = [(impressions[i].ink.k, impressions[i].ink.s, films * impressions[i].passes) for i in stack]
    return linear_to_lab(stack_reflectance(np.tile(paper, (3, 1)), layers))


def _as_lab(values: NDArray[np.float64]) -> Lab:
    lightness, a, b = values.tolist()
    return (lightness, a, b)


def _prove_shapes(design: Design, separation: Separation) -> tuple[ShapeProof, ...]:
    paper = srgb_to_linear(hex_to_srgb(design.paper_hex))
    stacks = _stacks(design, separation.impressions)
    distinct = sorted(set(stacks))
    labs = np.stack([_stack_labs(paper, separation.impressions, stack) for stack in distinct])
    which = np.array([distinct.index(stack) for stack in stacks])
    moved = delta_e00(labs[:, 1:], labs[:, :1]).max(axis=1)[which]
    predicted = labs[which, 0]
    wanted = [design.palette[shape.colour].lab for shape in design.shapes]
    differences = delta_e00(predicted, wanted)
    areas = shapely.area([shape.region for shape in design.shapes])
    return tuple(
        ShapeProof(
            at=shape.at,
            area_mm2=float(areas[i]),
            target_lab=wanted[i],
            predicted_lab=_as_lab(predicted[i]),
            delta_e00=float(differences[i]),
            uncertainty=float(moved[i]),
        )
        for i, shape in enumerate(design.shapes)
    )


def _colour_findings(design: Design, separation: Separation, shapes: Sequence[ShapeProof]) -> list[Finding]:
    """One finding for each colour with shapes that are predicted far off, the worst first.

    What the separation has told already (a colour that no ink reaches, or that is left as paper) is not
    told again.
    """
    told_at = {finding.at for finding in separation.findings if finding.code in _COLOUR_CODES}
    told = {shape.colour for shape in design.shapes if shape.at in told_at}
    far: defaultdict[int, list[ShapeProof]] = defaultdict(list)
    for shape, proof in zip(design.shapes, shapes, strict=True):
        if proof.delta_e00 > FAR_OFF_DELTA_E00 and shape.colour not in told:
            far[shape.colour].append(proof)
    findings = []
    for colour, proofs in sorted(far.items(), key=lambda item: -max(p.delta_e00 for p in item[1])):
        worst = max(proofs, key=lambda p: (p.delta_e00, p.area_mm2))
        count = "One shape" if len(proofs) == 1 else f"{len(proofs)} shapes"
        message = (
            f"{count} of {design.palette[colour].name} ({design.palette[colour].srgb_hex}): the print is "
        )
        message += f"predicted to differ from the design by {worst.delta_e00:.1f} (CIEDE2000). "
        message += "Recolour it, take another paper, or accept it."
        about = (("colour", design.palette[colour].name),)
        findings.append(Finding("colour-far-off", "warn", message, worst.at, about))
    return findings


def _register_findings(design: Design, separation: Separation, drift_mm: float, risk: float) -> list[Finding]:
    if risk <= HIGH_RISK_PERCENT:
        return []
    trap_mm = trap_for_probability(HIGH_RISK_PERCENT / 100.0, drift_mm)
    better = risk_percent(separation, gaping_edges(separation, drift_mm=drift_mm, least_trap_mm=trap_mm))
    worst, _ = max(gaping_edges(separation, drift_mm=drift_mm), key=lambda pair: pair[1])
    largest = max(worst.shapes, key=lambda i: design.shapes[i].region.area)
    message = (
        f"On one sheet about {risk:.0f} % of the edges between colours would show bare paper at a register "
    )
    message += f"of {drift_mm:g} mm, most of it around {worst.name}. "
    message += f"Traps of at least {trap_mm:g} mm bring it to {better:.1f} %."
    at = design.shapes[largest].at
    return [Finding("register-risk", "warn", message, at, (("colour", worst.name), ("trap_mm", trap_mm)))]


def prove(design: Design, separation: Separation, settings: ProofTable) -> Proof:
    """Predict the print: each shape's colour with its uncertainty, and what the register may show.

    The colour of a shape is its impressions' layers over the paper, away from the traps. Percentiles are by
    area. Shapes come in the design's order. See :mod:`blockwright.proof.register` for what the risk leaves
    out.
    """
    shapes = _prove_shapes(design, separation)
    areas = [shape.area_mm2 for shape in shapes]
    differences = [shape.delta_e00 for shape in shapes]
    median, p95 = np.quantile(differences, [0.5, 0.95], weights=areas, method="inverted_cdf").tolist()
    risk = risk_percent(separation, gaping_edges(separation, drift_mm=settings.drift_mm))
    return Proof(
        shapes=shapes,
        median_delta_e00=median,
        p95_delta_e00=p95,
        register_risk_percent=risk,
        findings=(
            *_colour_findings(design, separation, shapes),
            *_register_findings(design, separation, settings.drift_mm, risk),
        ),
    )

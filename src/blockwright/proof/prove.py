"""Predict every shape's colour and the risk of the register, in numbers."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    reflectance_to_display,
    reflectance_to_lab,
    stack_reflectance,
)
from blockwright.colour.inks import to_arrays
from blockwright.colour.optics import MIXTURE_DELTA_E00, predicted, uncertainty_delta_e00, with_film_variation
from blockwright.geometry.drift import trap_for_probability
from blockwright.model.design import Design
from blockwright.model.findings import Finding
from blockwright.model.inks import PrintInk
from blockwright.model.proof import Proof, ShapeProof
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import ProofTable
from blockwright.model.units import Lab
from blockwright.proof.along_runs import along_run, anything_runs
from blockwright.proof.layers import layers_of
from blockwright.proof.light import Layer
from blockwright.proof.register import gaping_edges, risk_percent

FAR_OFF_DELTA_E00 = 5.0
"""Shapes predicted farther than this from the design (CIEDE2000) are pointed out [CP]."""

HIGH_RISK_PERCENT = 5.0
"""A register risk above this share of the edges is pointed out [CP]."""

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


@dataclass(frozen=True, slots=True)
class _Predicted:
    """A stack's colour under D65 and how far off it may be; ``beyond_screen`` tells that sRGB lacks it."""

    lab: NDArray[np.float64]
    uncertainty_delta_e00: float
    beyond_screen: bool


def _predict(paper: NDArray[np.float64], layers: Sequence[Layer], printed: Sequence[PrintInk]) -> _Predicted:
    """What a stack of layers, the lowest first, and the inks that they are of, looks like."""
    films = [layer.thickness for layer in layers]

    def over(k: NDArray[np.float64], s: NDArray[np.float64]) -> NDArray[np.float64]:
        beds = [(k[..., i, :], s[..., i, :], film) for i, film in enumerate(films)]
        return stack_reflectance(np.broadcast_to(paper, (*k.shape[:-2], len(paper))), beds)

    if not layers:
        seen, off = paper, 0.0
    else:
        known = to_arrays([ink.name for ink in printed], [ink.optics for ink in printed])
        seen = predicted(known, over)
        mixtures = MIXTURE_DELTA_E00 * np.sqrt(sum(ink.mixture for ink in printed))
        off = float(np.hypot(uncertainty_delta_e00(with_film_variation(known), over), mixtures))
    return _Predicted(reflectance_to_lab(seen), off, bool(reflectance_to_display(seen).mapped))


def _as_lab(values: NDArray[np.float64]) -> Lab:
    lightness, a, b = values.tolist()
    return (lightness, a, b)


def _prove_shapes(
    design: Design, separation: Separation, inks: Sequence[PrintInk]
) -> tuple[tuple[ShapeProof, ...], list[Finding]]:
    paper, layers = colour_reflectance(design.paper_hex), layers_of(separation.inked, inks)
    stacks = _stacks(design, separation.inked)
    seen = {
        stack: _predict(paper, [layers[i] for i in stack], [inks[i] for i in stack]) for stack in set(stacks)
    }
    labs = np.array([seen[stack].lab for stack in stacks])
    wanted = [design.palette[shape.colour].lab for shape in design.shapes]
    finished = _as_finished(separation, labs)
    for place, lab in finished.items():
        # Leaf is no ink, and bare paper that is embossed stands for itself: both are as they are wanted.
        wanted[place], labs[place] = lab, lab
    differences = delta_e00(labs, wanted)
    areas = shapely.area([shape.region for shape in design.shapes])
    shapes, beyond = [], []
    for i, shape in enumerate(design.shapes):
        proof = ShapeProof(
            at=shape.at,
            area_mm2=float(areas[i]),
            target_lab=wanted[i],
            predicted_lab=_as_lab(labs[i]),
            delta_e00=float(differences[i]),
            uncertainty=seen[stacks[i]].uncertainty_delta_e00,
            worst_delta_e00=float(differences[i]),
        )
        outside, own = seen[stacks[i]].beyond_screen, [layers[k] for k in stacks[i]]
        if i not in finished and anything_runs(shape, own):
            run = along_run(shape, wanted[i], paper, own)
            even = _predict(paper, run.mean_layers, [inks[k] for k in stacks[i]])
            outside = run.beyond_screen
            proof = replace(
                proof,
                target_lab=_as_lab(run.target),
                predicted_lab=_as_lab(run.predicted),
                delta_e00=run.delta_e00,
                uncertainty=even.uncertainty_delta_e00,
                worst_delta_e00=run.worst_delta_e00,
            )
        shapes.append(proof)
        beyond.append(outside)
    return tuple(shapes), _screen_findings(design, beyond)


def _as_finished(separation: Separation, labs: NDArray[np.float64]) -> dict[int, Lab]:
    """The colours that stand for shapes whose colour in the design the print is not to have."""
    seen = {shape: _as_lab(labs[shape]) for shape in separation.unmatched}
    leaf = (each for each in separation.impressions if each.kind == "leaf")
    return seen | {shape: each.lab for each in leaf for shape in each.shapes}


def _leaf_findings(separation: Separation) -> list[Finding]:
    """One finding for each metal: the proof cannot know how it looks."""
    at = {each.impression: each.at for each in separation.layings}
    return [
        Finding(
            "leaf-outside-model",
            "note",
            f"{each.name[:1].upper()}{each.name[1:]} is shown by a sheen that only stands for it: how metal "
            "looks hangs on the light, and no figure of the proof counts it. Lay a leaf on a trial print to "
            "judge it.",
            at.get(each.number),
        )
        for each in separation.impressions
        if each.kind == "leaf"
    ]


def _screen_findings(design: Design, beyond: Sequence[bool]) -> list[Finding]:
    """What the pictures cannot show truly."""
    places = [shape.at for shape, outside in zip(design.shapes, beyond, strict=True) if outside]
    if not places:
        return []
    one = len(places) == 1
    message = (
        f"{'One shape is' if one else f'{len(places)} shapes are'} more saturated in print than a screen can "
        f"show; the pictures show {'it' if one else 'them'} paler. The numbers are those of the print."
    )
    return [Finding("beyond-screen", "note", message, places[0])]


def _colour_findings(
    design: Design, separation: Separation, inks: Sequence[PrintInk], shapes: Sequence[ShapeProof]
) -> list[Finding]:
    """One finding for each colour with shapes that are predicted far off, the worst first.

    What is told already (a colour left as paper, an ink to be mixed that misses it) is not told again.
    """
    told_at = {finding.at for finding in separation.findings if finding.code == "lighter-than-paper"}
    told = {shape.colour for shape in design.shapes if shape.at in told_at}
    for impression, ink in zip(separation.inked, inks, strict=True):
        if ink.shelf_number is None and ink.delta_e00 > FAR_OFF_DELTA_E00:
            told |= {design.shapes[shape].colour for shape in impression.shapes}
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


def _quantiles(values: Sequence[float], shapes: Sequence[ShapeProof], shares: Sequence[float]) -> list[float]:
    """Quantiles by area; 0 where no shape is counted."""
    if not shapes:
        return [0.0 for _ in shares]
    areas = [shape.area_mm2 for shape in shapes]
    found: list[float] = np.quantile(values, shares, weights=areas, method="inverted_cdf").tolist()
    return found


def prove(design: Design, separation: Separation, inks: Sequence[PrintInk], settings: ProofTable) -> Proof:
    """Predict the print: each shape's colour with its uncertainty, and what the register may show.

    The colour of a shape is its impressions' layers over the paper, in 36 bands, away from the traps;
    ``inks`` are those of the impressions. Its uncertainty is a root mean square: what is not known of the
    inks, films that vary, and what two-constant theory misses of mixtures; where a film runs, it is that of
    its mean. Along a run the colours are compared place by place (:mod:`blockwright.proof.along_runs`).
    Percentiles are by area. Shapes come in the design's order. See :mod:`blockwright.proof.register` for what
    the risk leaves out.

    Shapes under leaf, and those that are embossed in place of being printed, stand with the colour that is
    shown for them as the wanted one; no figure counts them.
    """
    shapes, screen = _prove_shapes(design, separation, inks)
    left_out = set(separation.unmatched)
    counted = [shape for k, shape in enumerate(shapes) if k not in left_out]
    median, p95 = _quantiles([each.delta_e00 for each in counted], counted, [0.5, 0.95])
    (unsure,) = _quantiles([each.uncertainty for each in counted], counted, [0.5])
    risk = risk_percent(separation, gaping_edges(separation, drift_mm=settings.drift_mm))
    return Proof(
        shapes=shapes,
        median_delta_e00=median,
        p95_delta_e00=p95,
        register_risk_percent=risk,
        median_uncertainty_delta_e00=unsure,
        findings=(
            *_colour_findings(design, separation, inks, shapes),
            *_register_findings(design, separation, settings.drift_mm, risk),
            *screen,
            *_leaf_findings(separation),
        ),
    )

"""Proof: what the sheet is predicted to look like, before any wood is cut."""

from dataclasses import dataclass

from blockwright.model.findings import Finding
from blockwright.model.units import Lab, PointMm


@dataclass(frozen=True, slots=True)
class ShapeProof:
    """One shape's wanted and predicted colour (CIELAB, D65) and their difference.

    Where the colour runs, or an ink over it does, the colours and the difference are means over the shape's
    area, and ``worst_delta_e00`` is the largest difference in it; of flat print on flat colour it is the same
    as ``delta_e00``. ``uncertainty`` is how far off the prediction may be (CIEDE2000): two of three shapes
    lie nearer.
    """

    at: PointMm
    area_mm2: float
    target_lab: Lab
    predicted_lab: Lab
    delta_e00: float
    uncertainty: float
    worst_delta_e00: float


@dataclass(frozen=True, slots=True)
class Proof:
    """The predicted print. Percentiles are by area; the risk is a share of the common edges' length.

    ``median_uncertainty_delta_e00`` is how far off the prediction may be over the middle of the area.
    """

    shapes: tuple[ShapeProof, ...]
    median_delta_e00: float
    p95_delta_e00: float
    register_risk_percent: float
    findings: tuple[Finding, ...] = ()
    median_uncertainty_delta_e00: float = 0.0

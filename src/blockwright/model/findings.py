"""Findings: what a careful colleague would point at in the printmaker's work, with a place."""

from dataclasses import dataclass
from typing import Literal

from blockwright.model.units import PointMm

Severity = Literal["note", "warn", "stop"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One observation about the work.

    ``code`` is a stable lower-case name with hyphens; ``message`` is one or two sentences for the
    printmaker; ``at`` is a place in mm in image coordinates, or None when it concerns the whole print.
    ``stop`` means that the work cannot go on, ``warn`` that it can but will show, ``note`` is for
    information.
    """

    code: str
    severity: Severity
    message: str
    at: PointMm | None = None

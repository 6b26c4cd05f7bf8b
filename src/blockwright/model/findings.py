"""Findings: what a careful colleague would point at in the printmaker's work, with a place."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from blockwright.model.settings import Accept
from blockwright.model.units import PointMm

Severity = Literal["note", "warn", "stop"]

Facts = tuple[tuple[str, str | int | float], ...]
"""Names with their values."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One observation about the work.

    ``code`` is a stable lower-case name with hyphens; ``message`` is one or two sentences for the
    printmaker; ``at`` is a place in mm in image coordinates, or None when it concerns the whole print.
    ``stop`` means that the work cannot go on, ``warn`` that it can but will show, ``note`` is for
    information. ``about`` says for programs what the sentence speaks of: a ``colour``, ``edit``, ``face`` or
    ``board`` by its name, and settings by their own names, each with the value that would do.
    """

    code: str
    severity: Severity
    message: str
    at: PointMm | None = None
    about: Facts = ()


ACCEPTED_WITHIN_MM = 1.0
"""A finding this near the place at which one of its kind was accepted is the same one: a new trace moves
shapes by less, and the eye goes to one spot for both [CP]."""


def is_accepted(code: str, severity: str, at: Sequence[float] | None, accepted: Sequence[Accept]) -> bool:
    """Whether the printmaker has looked at a finding and leaves it as it is. What stops the work never is.

    >>> neck = Accept(finding="neck-too-narrow", at=(20.0, 30.0))
    >>> is_accepted("neck-too-narrow", "warn", (20.2, 30.1), [neck])
    True
    >>> is_accepted("neck-too-narrow", "warn", (40.0, 30.0), [neck])
    False
    """
    return severity != "stop" and any(
        each.finding == code
        and (each.at is None or (at is not None and math.dist(each.at, at) <= ACCEPTED_WITHIN_MM))
        for each in accepted
    )

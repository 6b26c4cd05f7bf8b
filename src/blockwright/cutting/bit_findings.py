"""What is to be said of a set of bits: those too large for every gap, those not needed, those that rub."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor

from blockwright.cutting.ball_lanes import Ball
from blockwright.cutting.feeds import Speeds
from blockwright.cutting.ground import Manner, Tool
from blockwright.cutting.lanes import reach_mm
from blockwright.cutting.routing import Routed
from blockwright.model.findings import Facts, Finding
from blockwright.model.router import CLEARING_KINDS, Machine

_LARGEST_MM = 100.0
"""No bit is thicker."""

_LEAST_SAID_MM = 0.3
"""Thinner bits are not sold."""

_HALVINGS = 40


@dataclass(frozen=True, slots=True, eq=False)
class FaceBits:
    """The machine and the bits that a face was routed with, those that do nothing too, and what they did."""

    machine: Machine
    tools: tuple[Tool, ...]
    manner: Manner
    routed: Routed

    def clears(self, tool: Tool) -> bool:
        """Whether a bit clears any waste."""
        return any(run.bit == tool.bit and run.what == "clearing" for run in self.routed.runs)

    def works(self, tool: Tool) -> bool:
        """Whether a bit does anything at all."""
        return any(run.bit == tool.bit for run in self.routed.runs)

    def needs_mm(self, tool: Tool) -> float:
        """How far from all wood that stays a place must be for a bit that clears."""
        if tool.bit.kind == "ball":
            ball = Ball(tool.bit, self.routed.floor, tool.steps, self.manner.stock_mm, self.manner.slack_mm)
            return ball.nearest_mm
        return reach_mm(tool.bit, self.routed.floor, self.manner.stock_mm)

    def largest_mm(self, tool: Tool) -> float:
        """The diameter of the largest bit of a bit's kind that has room somewhere; 0 where none has."""
        low, high = 0.0, _LARGEST_MM
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            thick = replace(tool, bit=replace(tool.bit, diameter_mm=middle))
            low, high = (middle, high) if self.needs_mm(thick) < self.routed.widest_mm else (low, middle)
        return low


def told_of_bits(faces: Sequence[FaceBits]) -> tuple[Finding, ...]:
    """What is to be said of the bits of all faces that are routed: once for a bit, not once for a face."""
    if not faces:
        return ()
    # Speeds go by the wood; which bits there are is the same on every face.
    tools = faces[0].tools
    idle = [tool for tool in tools if not any(face.works(tool) for face in faces)]
    large = [
        tool
        for tool in tools
        if tool.bit.kind in CLEARING_KINDS
        and not any(face.clears(tool) for face in faces)
        and all(face.needs_mm(tool) >= face.routed.widest_mm for face in faces)
    ]
    spare = [tool for tool in idle if tool not in large]
    return (
        *_too_large(large, faces),
        *_not_needed(spare, tools),
        *_rubbing([tool for tool in tools if tool not in idle], faces),
    )


def _too_large(large: Sequence[Tool], faces: Sequence[FaceBits]) -> list[Finding]:
    if not large:
        return []
    smallest = min(large, key=lambda tool: tool.bit.diameter_mm)
    kind = smallest.bit.kind
    # Rounded down, so that what is said does fit.
    most_mm = floor(10.0 * max(face.largest_mm(smallest) for face in faces)) / 10.0
    tools = faces[0].tools
    others = [tool for tool in tools if any(face.clears(tool) for face in faces)]
    fits = "fits" if len(large) == 1 else "fit"
    clears = "clears" if len(large) == 1 else "clear"
    told = f"{_listed(large)} {fits} nowhere on the faces that are routed and {clears} nothing"
    if most_mm < _LEAST_SAID_MM:
        told += "; no gap is wide enough for any bit that clears."
    else:
        told += f"; the widest gap takes a {kind} bit of {most_mm:g} mm at most."
    if not others:
        told += " No other bit clears the ground between walls."
    return [
        Finding(
            code="bit-too-large",
            severity="warn",
            message=told,
            about=(("bit", smallest.bit.name), ("most_mm", most_mm), *_without(large, tools, others)),
        )
    ]


def _not_needed(spare: Sequence[Tool], tools: Sequence[Tool]) -> list[Finding]:
    if not spare:
        return []
    have, they = ("has", "it") if len(spare) == 1 else ("have", "they")
    return [
        Finding(
            code="bit-not-needed",
            severity="note",
            message=f"{_listed(spare)} {have} nothing to do on the faces that are routed; {they} can stay in "
            "the rack.",
            about=(("bit", spare[0].bit.name), *_without(spare, tools, tools)),
        )
    ]


def _rubbing(working: Sequence[Tool], faces: Sequence[FaceBits]) -> list[Finding]:
    """Bits whose chip is too thin on this machine; in the wood where it is the thinnest."""
    findings = []
    for tool in working:
        speeds = [
            each.speeds
            for face in faces
            if face.works(tool)
            for each in face.tools
            if each.bit == tool.bit and each.speeds.rubs
        ]
        if not speeds:
            continue
        worst: Speeds = min(speeds, key=lambda each: each.chip_mm)
        others = [each for each in faces[0].tools if each is not tool]
        findings.append(
            Finding(
                code="bit-rubs",
                severity="warn",
                message=str(worst.clamped),
                about=(
                    ("bit", tool.bit.name),
                    ("machine", faces[0].machine.name),
                    *_without([tool], faces[0].tools, others),
                ),
            )
        )
    return findings


def _without(bits: Sequence[Tool], tools: Sequence[Tool], clearing: Sequence[Tool]) -> Facts:
    """The names of the set without some bits, as a list in JSON; nothing where no bit that clears is left."""
    left = [tool for tool in tools if tool not in bits]
    if not any(tool.bit.kind in CLEARING_KINDS and tool in clearing for tool in left):
        return ()
    return (("bits", json.dumps([tool.bit.name for tool in left], ensure_ascii=False)),)


def _listed(tools: Sequence[Tool]) -> str:
    names = [tool.bit.name for tool in tools]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)

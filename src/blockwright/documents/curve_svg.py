"""The curve of blocks against colour error as a drawing: what each number of blocks costs."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from blockwright.model.separation import CurvePoint, Overprints

CURVE = "curve.svg"
"""The file of the drawing."""

_WIDTH, _HEIGHT = 340.0, 230.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 30.0, 12.0, 22.0, 40.0
_INK, _QUIET, _PAPER, _SEAL = "#221e19", "#655d4f", "#fbf7ec", "#9c2f24"

BLOCKS_AXIS = "blocks of the whole print"
"""What the curve's axis counts: those of the flat colours and of all that is printed beside them."""

_FONT = 'font-family="serif" font-size="12"'


@dataclass(frozen=True, slots=True)
class CurveAxes:
    """The axes of a curve: blocks of the whole print from ``low`` to ``high``, CIEDE2000 from 0 to ``most``.

    ``step`` is that of the marks for CIEDE2000.
    """

    low: int
    high: int
    most: float
    step: int

    @classmethod
    def of(cls, curve: Sequence[CurvePoint], limit_delta_e00: float) -> "CurveAxes":
        """The axes that hold a curve and its limit."""
        most = 1.15 * max(limit_delta_e00, *(p.reached_max_delta_e00 for p in curve))
        step = next((each for each in (1, 2, 5, 10, 20, 50) if most / each <= 6), 100)
        return cls(min(p.all_blocks for p in curve), max(p.all_blocks for p in curve), most, step)

    def across(self, blocks: float) -> float:
        """Where a number of blocks lies, 0 to 1."""
        return (blocks - self.low + 0.5) / (self.high - self.low + 1)

    def up(self, delta_e00: float) -> float:
        """How high a difference lies, 0 to 1."""
        return delta_e00 / self.most

    @property
    def blocks(self) -> range:
        """The numbers of blocks that are marked."""
        return range(self.low, self.high + 1, 1 + (self.high - self.low) // 11)

    @property
    def differences(self) -> range:
        """The differences that are marked."""
        return range(0, int(self.most) + 1, self.step)


def write_curve(into: Path, *, found: Overprints, limit_delta_e00: float) -> None:
    """Write the curve that a search of overprints found into a folder, as an SVG file."""
    drawn = curve_svg(found.curve, taken=found.blocks, limit_delta_e00=limit_delta_e00)
    (into / CURVE).write_text(drawn, encoding="utf-8")


def curve_svg(curve: Sequence[CurvePoint], *, taken: int, limit_delta_e00: float) -> str:
    """An SVG of its own: the worst colour's difference at each number of blocks, and the median.

    The blocks are those of the whole print; the worst is that of the colours that the inks at hand can reach.
    The plan with ``taken`` blocks for the flat colours is ringed; the limit is a line. Plans within the
    limits are filled, others hollow.

    >>> point = CurvePoint(4, 4, 5, 6, 1.0, 2.5, 2.5, 900.0, within=True, proven=False)
    >>> curve_svg([point], taken=4, limit_delta_e00=3.0).startswith("<svg")
    True
    """
    axes = CurveAxes.of(curve, limit_delta_e00)

    def x(blocks: float) -> float:
        return _LEFT + axes.across(blocks) * (_WIDTH - _LEFT - _RIGHT)

    def y(delta_e00: float) -> float:
        return _HEIGHT - _BOTTOM - axes.up(delta_e00) * (_HEIGHT - _TOP - _BOTTOM)

    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" role="img" '
        f'aria-label="{_told(curve, taken)}">',
        f'<rect width="{_WIDTH:g}" height="{_HEIGHT:g}" fill="{_PAPER}"/>',
        _line(_LEFT, y(0), _WIDTH - _RIGHT, y(0), _QUIET),
        *(_mark(_LEFT - 8, y(value) + 4, f"{value}", "end") for value in axes.differences),
        _line(_LEFT, y(limit_delta_e00), _WIDTH - _RIGHT, y(limit_delta_e00), _SEAL, dashed=True),
        _mark(_WIDTH - _RIGHT, y(limit_delta_e00) - 5, f"limit {limit_delta_e00:g}", "end", _SEAL),
        _path([(x(p.all_blocks), y(p.median_delta_e00)) for p in curve], _QUIET, dashed=True),
        _path([(x(p.all_blocks), y(p.reached_max_delta_e00)) for p in curve], _INK),
    ]
    for point in curve:
        at_x, at_y = x(point.all_blocks), y(point.reached_max_delta_e00)
        fill = _INK if point.within else _PAPER
        lines.append(f'<circle cx="{at_x:.1f}" cy="{at_y:.1f}" r="3.5" fill="{fill}" stroke="{_INK}"/>')
        if point.blocks == taken:
            ring = f'r="8" fill="none" stroke="{_SEAL}" stroke-width="1.5"'
            lines.append(f'<circle cx="{at_x:.1f}" cy="{at_y:.1f}" {ring}/>')
    lines += [_mark(x(n), _HEIGHT - _BOTTOM + 17, f"{n}", "middle") for n in axes.blocks]
    lines += [
        _mark((_LEFT + _WIDTH - _RIGHT) / 2, _HEIGHT - 8, BLOCKS_AXIS, "middle", _QUIET),
        _mark(_LEFT + 6, _TOP - 6, f"CIEDE2000: {worst_said(curve)}; dotted: median", "start", _QUIET),
        "</svg>",
    ]
    return "".join(lines)


def worst_said(curve: Sequence[CurvePoint]) -> str:
    """What the worst is that the curve shows."""
    far = any(p.max_delta_e00 > p.reached_max_delta_e00 for p in curve)
    return "worst colour within reach" if far else "worst colour"


def _told(curve: Sequence[CurvePoint], taken: int) -> str:
    first, last = curve[0], curve[-1]
    here = next((p.all_blocks for p in curve if p.blocks == taken), taken)
    return (
        f"Blocks of the whole print against colour error, from {first.all_blocks} blocks, worst "
        f"{first.reached_max_delta_e00:.1f}, to {last.all_blocks} blocks, worst "
        f"{last.reached_max_delta_e00:.1f}; {here} are taken"
    )


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, *, dashed: bool = False) -> str:
    dash = ' stroke-dasharray="4 3"' if dashed else ""
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}"{dash}/>'


def _path(points: Sequence[tuple[float, float]], colour: str, *, dashed: bool = False) -> str:
    dash = ' stroke-dasharray="2 3"' if dashed else ""
    told = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{told}" fill="none" stroke="{colour}"{dash}/>'


def _mark(x: float, y: float, text: str, anchor: str, colour: str = _INK) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}" {_FONT}>{text}</text>'

"""The calibration sheet laid out: from what it is to hold to where every patch, mark and word stands.

Marks stand along the frame, at the corners and between them, so that a sheet that has lost a corner can still
be read. Each mark's id says which place it has and one digit of the page's number, and every digit stands on
at least two marks; so a page of another sheet is told. Bare paper is spread over the whole page, because the
evenness of the light is judged by it. The same plan always gives the same layout.
"""

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass

from blockwright.model.errors import SettingsError
from blockwright.model.swatches import (
    MarkPlace,
    PatchPlace,
    RectMm,
    SwatchPage,
    SwatchPlan,
    SwatchRow,
)

LAYOUT_VERSION = 1
"""Goes up whenever the same plan would be laid out otherwise."""

MARGIN_MM = 8.0
"""Rim in which office printers do not print, with something to spare [CP]."""

MARK_MM = 12.0
"""Side of a mark: eight modules of 1.5 mm, each more than four pixels wide at three pixels a millimetre."""

FRAME_GAP_MM = 5.0
"""White between a mark and what stands within the frame; marks need one module of it to be found."""

MARK_STEP_MM = 100.0
"""Marks along an edge are about this far apart."""

MOST_PLACES, DIGITS, BASE = 16, 4, 62
"""Places along the frame, digits of a page's number, and what a digit counts to: 16 times 62 ids of 1000."""

LEAST_PATCH_MM, MOST_PATCH_MM = 12.0, 20.0
"""Smaller patches print unevenly and leave a spectrophotometer no room; larger ones waste paper [CP]."""

GAP_MM = 5.0
"""Bare paper between patches."""

HEADER_MM, FOOTER_MM, HEADS_MM, LABEL_MM = 42.0, 14.0, 10.0, 29.0
"""Height of the words at the top, at the foot, of the columns' heads, and width of the rows' names."""

BAND_RIM_MM = 3.0
"""How far a black ground reaches past its patches."""

SPOT_MM, SPOT_STEP_MM = 6.0, 14.0
"""Side of a place in the frame by which the light is judged, and the distance of two."""

MOST_PASSES = 3
MOST_PAPER_MM = 1200.0
"""No flatbed takes more, and no photo shows the marks of a larger sheet."""

MOST_ROWS = 200
MOST_NAME = 60


def plan_sheet(
    inks: Sequence[str],
    mixes: Sequence[Sequence[tuple[str, float]]] = (),
    *,
    size_mm: tuple[float, float],
    passes: int = MOST_PASSES,
    over_black: bool = True,
    black_drawn: bool = False,
) -> SwatchPlan:
    """Say what a calibration sheet is to hold: a row for every ink, then one for every mixture of two.

    ``mixes`` are pairs of (ink, share), shares above 0 and summing to 1; ``size_mm`` is the paper's width and
    height. Raises SettingsError for no ink, a name that is empty, too long or given twice, a mixture of an
    ink that is not on the sheet, wrong shares, passes outside 1 to MOST_PASSES, or paper that is too small.

    >>> plan = plan_sheet(["rose", "blue"], [[("rose", 0.5), ("blue", 0.5)]], size_mm=(210.0, 297.0))
    >>> [row.name for row in plan.rows]
    ['rose', 'blue', 'rose + blue']
    """
    names = [" ".join(name.split()) for name in inks]
    if not names:
        raise SettingsError("A calibration sheet needs at least one ink; give each with --ink NAME.")
    for index, name in enumerate(names):
        if not name or len(name) > MOST_NAME:
            raise SettingsError(f"The name of an ink has 1 to {MOST_NAME} letters; {name!r} has {len(name)}.")
        if name.casefold() in {other.casefold() for other in names[:index]}:
            raise SettingsError(f"The ink {name!r} is given twice.")
    if not all(0.0 < side <= MOST_PAPER_MM for side in size_mm):
        raise SettingsError(
            f"Paper of {size_mm[0]:g} x {size_mm[1]:g} mm is no sheet; sides are up to {MOST_PAPER_MM:g} mm."
        )
    if not 1 <= passes <= MOST_PASSES:
        raise SettingsError(f"Each row has 1 to {MOST_PASSES} passes, not {passes}.")
    rows = [SwatchRow(((name, 1.0),)) for name in names] + [_mix(mix, names) for mix in mixes]
    if len(rows) > MOST_ROWS:
        raise SettingsError(f"A calibration sheet has at most {MOST_ROWS} rows, not {len(rows)}.")
    for index, row in enumerate(rows):
        if row in rows[:index]:
            raise SettingsError(f"The mixture {row.name!r} is given twice.")
    plan = SwatchPlan(tuple(rows), passes, over_black, black_drawn, float(size_mm[0]), float(size_mm[1]))
    _Grid.of(plan)
    return plan


def lay_out_sheet(plan: SwatchPlan) -> tuple[SwatchPage, ...]:
    """Lay out the pages of a sheet. Raises SettingsError when the paper is too small for it.

    >>> pages = lay_out_sheet(plan_sheet(["rose"], size_mm=(210.0, 297.0)))
    >>> [(patch.code, patch.box[2]) for patch in pages[0].patches if patch.row == 0][:2]
    [('1w1', 13.0), ('1w2', 13.0)]
    """
    grid = _Grid.of(plan)
    groups = [
        range(first, min(first + grid.rows, len(plan.rows))) for first in range(0, len(plan.rows), grid.rows)
    ]
    counts = {"paper": 0, "black": 0}
    return tuple(_page(plan, grid, index, len(groups), group, counts) for index, group in enumerate(groups))


def page_number(plan: SwatchPlan, page: int) -> int:
    """The number of a page (counted from 0), which follows from the plan; below BASE to the power DIGITS."""
    described = json.dumps([LAYOUT_VERSION, page, asdict(plan)], sort_keys=True)
    digest = hashlib.sha256(described.encode()).digest()
    return int(int.from_bytes(digest[:8], "big") % BASE**DIGITS)


def digit_of(number: int, place: int) -> int:
    """The digit of a page's number that the mark at a place carries."""
    return int(number // BASE ** (place % DIGITS) % BASE)


def _mix(mix: Sequence[tuple[str, float]], names: Sequence[str]) -> SwatchRow:
    known = {name.casefold(): name for name in names}
    said = " + ".join(name for name, _ in mix)
    if len(mix) != 2:
        raise SettingsError(f"A mixture is of two inks, such as rose+blue, not {said!r}.")
    parts = []
    for name, share in mix:
        plain = " ".join(name.split())
        if plain.casefold() not in known:
            raise SettingsError(f"The mixture {said!r} has {plain!r} in it, which is no ink of this sheet.")
        if not 0.0 < share < 1.0:
            raise SettingsError(f"The share of {plain} in the mixture {said!r} lies between 0 and 100 %.")
        parts.append((known[plain.casefold()], float(share)))
    if abs(sum(share for _, share in parts) - 1.0) > 1e-6:
        raise SettingsError(f"The shares of the mixture {said!r} do not sum to 100 %.")
    if parts[0][0] == parts[1][0]:
        raise SettingsError(f"The mixture {said!r} is of one ink only.")
    return SwatchRow(tuple(parts))


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where rows and columns stand: ``rows`` rows of ink to a page, between two rows of bare grounds."""

    left: float
    top: float
    patch: float
    step_x: float
    step_y: float
    rows: int
    passes: int
    over_black: bool

    @staticmethod
    def of(plan: SwatchPlan) -> "_Grid":
        inset = MARGIN_MM + MARK_MM + FRAME_GAP_MM
        width = plan.width_mm - 2.0 * inset - LABEL_MM
        # Passes over paper, a column of bare paper, passes over black with a band's rim at each side.
        columns = plan.passes * (2 if plan.over_black else 1) + 1
        rims = 2.0 * BAND_RIM_MM if plan.over_black else 0.0
        patch = min((width - rims + GAP_MM) / columns - GAP_MM, MOST_PATCH_MM)
        patch = float(int(patch))
        step_y = patch + GAP_MM
        height = plan.height_mm - 2.0 * inset - HEADER_MM - HEADS_MM - FOOTER_MM
        rows = int((height - 2.0 * BAND_RIM_MM + GAP_MM) // step_y) - 2
        if patch < LEAST_PATCH_MM or rows < 1:
            raise SettingsError(
                f"Paper of {plan.width_mm:g} x {plan.height_mm:g} mm is too small for {plan.passes} passes"
                f"{' over paper and over black' if plan.over_black else ''}; take A4 upright or larger."
            )
        step_x = min((width - rims - patch) / (columns - 1), patch + 2.0 * GAP_MM)
        top = inset + HEADER_MM + HEADS_MM + BAND_RIM_MM
        return _Grid(inset + LABEL_MM, top, patch, step_x, step_y, rows, plan.passes, plan.over_black)

    def box(self, column: int, line: int) -> RectMm:
        """A patch: columns of passes over paper, then bare paper, then passes over black."""
        shift = BAND_RIM_MM if column > self.passes else 0.0
        x = self.left + column * self.step_x + shift
        return (x, self.top + line * self.step_y, self.patch, self.patch)

    def band(self, lines: int) -> RectMm:
        """The black ground under so many lines."""
        first, last = self.box(self.passes + 1, 0), self.box(2 * self.passes, lines - 1)
        left, top = first[0] - BAND_RIM_MM, first[1] - BAND_RIM_MM
        return (left, top, last[0] + last[2] + BAND_RIM_MM - left, last[1] + last[3] + BAND_RIM_MM - top)


def _page(
    plan: SwatchPlan, grid: _Grid, index: int, pages: int, rows: range, counts: dict[str, int]
) -> SwatchPage:
    lines = len(rows) + 2
    inset = MARGIN_MM + MARK_MM + FRAME_GAP_MM
    number = page_number(plan, index)
    inner = plan.width_mm - 2.0 * inset
    marks = tuple(_marks(plan, number))
    return SwatchPage(
        plan=plan,
        number=number,
        page=index + 1,
        pages=pages,
        rows=tuple(rows),
        labels=tuple((inset, grid.box(0, k + 1)[1], LABEL_MM - 3.0, grid.patch) for k in range(len(rows))),
        patches=tuple(_patches(grid, rows, lines, counts)),
        marks=marks,
        light_spots=tuple(_light_spots(plan, marks)),
        bands=(grid.band(lines),) if plan.over_black else (),
        header=(inset, inset, inner, HEADER_MM),
        footer=(inset, plan.height_mm - inset - FOOTER_MM, inner, FOOTER_MM),
    )


def _patches(grid: _Grid, rows: range, lines: int, counts: dict[str, int]) -> Iterator[PatchPlace]:
    """Line by line; the first and the last line are bare grounds, and so is the column between."""
    for line in range(lines):
        bare = line in {0, lines - 1}
        for column in range(2 * grid.passes + 1 if grid.over_black else grid.passes + 1):
            box = grid.box(column, line)
            over_paper = column <= grid.passes
            if bare or column == grid.passes:
                kind = "paper" if over_paper else "black"
                counts[kind] += 1
                code = f"{'w' if over_paper else 'k'}{counts[kind]}"
                yield PatchPlace(
                    code, "paper" if over_paper else "black", "paper" if over_paper else "black", box
                )
                continue
            row = rows[line - 1]
            passes = column + 1 if over_paper else column - grid.passes
            code = f"{row + 1}{'w' if over_paper else 'k'}{passes}"
            yield PatchPlace(code, "ink", "paper" if over_paper else "black", box, row, passes)


def _marks(plan: SwatchPlan, number: int) -> Iterator[MarkPlace]:
    """The marks: four corners clockwise from the upper left, then those along the edges, clockwise too."""
    far_x, far_y = plan.width_mm - MARGIN_MM - MARK_MM, plan.height_mm - MARGIN_MM - MARK_MM
    near = MARGIN_MM
    corners = [(near, near), (far_x, near), (far_x, far_y), (near, far_y)]
    names = ["upper left corner", "upper right corner", "lower right corner", "lower left corner"]
    along, down = _between(plan.width_mm), _between(plan.height_mm)
    while 2 * (along + down) > MOST_PLACES - 4:
        along, down = (along - 1, down) if along > down else (along, down - 1)
    for (start, end), edge, count in (
        ((0, 1), "upper edge", along),
        ((1, 2), "right edge", down),
        ((2, 3), "lower edge", along),
        ((3, 0), "left edge", down),
    ):
        (x0, y0), (x1, y1) = corners[start], corners[end]
        for k in range(1, count + 1):
            part = k / (count + 1)
            corners.append((x0 + part * (x1 - x0), y0 + part * (y1 - y0)))
            names.append(edge)
    for place, (x, y) in enumerate(corners):
        marker = place + MOST_PLACES * digit_of(number, place)
        yield MarkPlace(place, names[place], marker, (x, y, MARK_MM, MARK_MM))


def _between(length_mm: float) -> int:
    """How many marks stand between the corners of an edge."""
    return max(1, round(length_mm / MARK_STEP_MM) - 1)


def _light_spots(plan: SwatchPlan, marks: Sequence[MarkPlace]) -> Iterator[RectMm]:
    """Small places of bare paper along the frame, clear of the marks."""
    middle = MARGIN_MM + MARK_MM / 2.0
    clear = MARK_MM / 2.0 + FRAME_GAP_MM + SPOT_MM / 2.0
    centres = [(mark.box[0] + MARK_MM / 2.0, mark.box[1] + MARK_MM / 2.0) for mark in marks]
    places = [(x, y) for x in _steps(middle, plan.width_mm) for y in (middle, plan.height_mm - middle)]
    places += [(x, y) for y in _steps(middle, plan.height_mm) for x in (middle, plan.width_mm - middle)]
    for x, y in places:
        if all(max(abs(x - cx), abs(y - cy)) >= clear for cx, cy in centres):
            yield (x - SPOT_MM / 2.0, y - SPOT_MM / 2.0, SPOT_MM, SPOT_MM)


def _steps(first: float, length: float) -> list[float]:
    """Places from one end of an edge to the other, about SPOT_STEP_MM apart."""
    count = max(1, round((length - 2.0 * first) / SPOT_STEP_MM))
    return [first + k * (length - 2.0 * first) / count for k in range(count + 1)]

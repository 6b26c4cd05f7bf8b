"""Picture in, design out: the steps of the design stage in order."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.colour.difference import delta_e00
from blockwright.colour.levels import levels_to_lab
from blockwright.colour.naming import colour_name, distinct_names
from blockwright.colour.srgb import hex_to_lab, hex_to_srgb, lab_to_hex
from blockwright.design.assigning import assign_colours, nearest_colours
from blockwright.design.colours import Colours, with_runs
from blockwright.design.edits import apply_edits
from blockwright.design.flattening import FlatPicture, flatten
from blockwright.design.gradations import Bands, FoundRun, find_runs, look_for_bands
from blockwright.design.judging import judge_flatness, judge_shapes
from blockwright.design.palette import find_palette
from blockwright.design.runs import calm_runs
from blockwright.design.slivers import remove_slivers
from blockwright.geometry.coverage import Coverage, check_coverage, trace_coverage
from blockwright.geometry.labelling import label_regions, remove_specks
from blockwright.geometry.merging import absorb_small
from blockwright.geometry.running import run_lab
from blockwright.model.design import Design, PaletteColour, Run, Shape, Tracing
from blockwright.model.findings import Finding
from blockwright.model.settings import DesignTable

_LOST_DE00 = 5.0
"""A pixel this far from the colour that stands for it (CIEDE2000) is visibly changed."""

_LEAST_SPECK_PX = 5
"""Spots of fewer pixels are noise at any resolution."""

_CHECKED = 300_000
"""Pixels compared with their flat colour; the median moves by less than 0.01 with more."""


@dataclass(frozen=True, slots=True)
class _Loss:
    median_delta_e00: float
    lost_percent: float


@dataclass(frozen=True, slots=True)
class _Palette:
    """Colours as ``#rrggbb``, which are steps of a gradation, and the share of flat paint if found."""

    hexes: tuple[str, ...]
    running: NDArray[np.bool_]
    heaped_share: float | None

    @property
    def levels(self) -> NDArray[np.float64]:
        return np.array([hex_to_srgb(colour) * 255.0 for colour in self.hexes])

    @property
    def lab(self) -> NDArray[np.float64]:
        return _lab(self.hexes)


def _choose_palette(flat: FlatPicture, settings: DesignTable) -> _Palette:
    if settings.palette is not None:
        hexes = tuple(dict.fromkeys(colour.lower() for colour in settings.palette))
        # A palette that was found and locked keeps its gradations: they are told by the picture.
        found = find_palette(flat, colours=settings.colours)
        steps = {lab_to_hex(lab) for lab, run in zip(found.lab, found.running, strict=True) if run}
        return _Palette(hexes, np.array([colour in steps for colour in hexes]), None)
    found = find_palette(flat, colours=settings.colours)
    # Two colours can round to the same sRGB value; the first stands for both.
    kept = {lab_to_hex(lab): bool(run) for lab, run in zip(found.lab[::-1], found.running[::-1], strict=True)}
    hexes = tuple(reversed(kept))
    return _Palette(hexes, np.array([kept[colour] for colour in hexes]), found.heaped_share)


def _label_pixels(
    flat: FlatPicture, palette: _Palette, settings: DesignTable, pixels_per_mm: float
) -> NDArray[np.uint8]:
    """The palette colour of every pixel, without fringes, slivers, ragged bands and specks."""
    nearest = nearest_colours(palette.lab)
    labels = assign_colours(flat, nearest, palette.levels)
    calm_runs(
        flat,
        labels,
        running=palette.running,
        distance=nearest.distance,
        lab=palette.lab,
        pixels_per_mm=pixels_per_mm,
    )
    remove_slivers(labels, flat.pixels, palette.levels)
    remove_specks(labels, least_pixels=max(settings.speck_mm2 * pixels_per_mm**2, _LEAST_SPECK_PX))
    return labels


def _lab(hexes: tuple[str, ...]) -> NDArray[np.float64]:
    return np.array([hex_to_lab(colour) for colour in hexes])


def _loss(
    pixels: NDArray[np.uint8],
    regions: NDArray[np.int32],
    lab: NDArray[np.float64],
    found: tuple[FoundRun, ...],
    pixels_per_mm: float,
) -> _Loss:
    """How far the pixels are from what stands for them; ``lab`` has the flat colour of every region."""
    step = max(1, int((regions.size / _CHECKED) ** 0.5))
    sampled = regions[::step, ::step]
    wanted = lab[sampled]
    for each in found:
        rows, columns = np.nonzero(np.isin(sampled, each.regions))
        places = np.stack([columns * step + 0.5, rows * step + 0.5], axis=1) / pixels_per_mm
        wanted[rows, columns] = run_lab(each.run, places)
    difference = delta_e00(levels_to_lab(pixels[::step, ::step]), wanted)
    lost = 100.0 * float(np.count_nonzero(difference > _LOST_DE00)) / difference.size
    return _Loss(float(np.median(difference)), lost)


def _shapes(coverage: Coverage, runs: tuple[Run | None, ...]) -> tuple[Shape, ...]:
    inside = shapely.get_coordinates(shapely.point_on_surface(coverage.polygons))
    return tuple(
        Shape(int(label), polygon, (float(x), float(y)), runs[label])
        for label, polygon, (x, y) in zip(coverage.labels, coverage.polygons, inside, strict=True)
    )


def _used_only(coverage: Coverage, colours: Colours) -> tuple[Coverage, Colours]:
    """Number the colours lightest first and leave out those that no shape has."""
    used = np.unique(coverage.labels)
    lightness = _lab(colours.hexes)[used, 0]
    order = used[np.lexsort([used, -lightness])]
    renumber = np.zeros(256, np.uint8)
    renumber[order] = np.arange(len(order))
    return Coverage(coverage.polygons, renumber[coverage.labels]), colours.chosen(order.tolist())


def _named(colours: Colours) -> tuple[PaletteColour, ...]:
    """Every colour with the name that was given, or one that says what it looks like, no name twice."""
    labs = [hex_to_lab(colour) for colour in colours.hexes]
    flats = iter(distinct_names([lab for lab, run in zip(labs, colours.runs, strict=True) if run is None]))
    names: list[str] = []
    for own, run in zip(colours.names, colours.runs, strict=True):
        found = next(flats) if run is None else f"{colour_name(run.lab[0])} to {colour_name(run.lab[-1])}"
        name = own or found
        while not own and name in (*colours.names, *names):
            name += ", other"
        names.append(name)
    return tuple(PaletteColour(n, h, lab) for n, h, lab in zip(names, colours.hexes, labs, strict=True))


def _look(
    flat: FlatPicture, labels: NDArray[np.uint8], settings: DesignTable, pixels_per_mm: float
) -> tuple[NDArray[np.int32], Bands | None]:
    """The region of every pixel, and which of them run into each other, if that is asked."""
    regions, areas, _ = label_regions(labels)
    if not settings.gradations:
        return regions, None
    return regions, look_for_bands(flat, regions, len(areas), pixels_per_mm=pixels_per_mm)


def trace_picture(
    pixels: NDArray[np.uint8],
    *,
    width_mm: float,
    settings: DesignTable,
    notes: tuple[Finding, ...] = (),
) -> Tracing:
    """Turn an (H, W, 3) uint8 sRGB picture into shapes of flat or running colour, ``width_mm`` wide.

    Hand edits in ``settings`` play no part. ``notes`` are findings made while the picture was read; they are
    passed on in front of the tracing's own. The colours come lightest first.
    """
    height, width = pixels.shape[:2]
    pixels_per_mm = width / width_mm
    flat = flatten(pixels)
    palette = _choose_palette(flat, settings)
    labels = _label_pixels(flat, palette, settings, pixels_per_mm)
    with ThreadPoolExecutor(1) as pool:
        # Both only read the labels, and most of both is outside the interpreter.
        looking = pool.submit(_look, flat, labels, settings, pixels_per_mm)
        coverage = trace_coverage(
            labels,
            flat.pixels,
            palette.levels,
            pixels_per_mm=pixels_per_mm,
            smoothing_mm=settings.smoothing_mm,
        )
        regions, bands = looking.result()
    del labels
    found = find_runs(bands, coverage) if bands else ()
    loss = _loss(pixels, regions, palette.lab[coverage.labels], found, pixels_per_mm)
    flatness = judge_flatness(flat, palette.heaped_share, loss.lost_percent, len(palette.hexes))
    del flat, regions
    coverage, colours = with_runs(coverage, palette.hexes, found)
    # Smoothing can draw a thin shape together to less than a speck.
    coverage = absorb_small(coverage, least_mm2=settings.speck_mm2)
    coverage, colours = _used_only(coverage, colours)
    return Tracing(
        width_mm=width_mm,
        height_mm=height / pixels_per_mm,
        pixels_per_mm=pixels_per_mm,
        palette=colours.hexes,
        shapes=_shapes(coverage, colours.runs),
        median_delta_e00=loss.median_delta_e00,
        lost_percent=loss.lost_percent,
        findings=(*notes, *flatness),
        found=palette.hexes,
    )


def finish_design(tracing: Tracing, *, title: str, paper_hex: str, settings: DesignTable) -> Design:
    """Make the hand edits on a tracing, name its colours, and judge its shapes."""
    traced = Coverage(
        np.array([shape.region for shape in tracing.shapes], dtype=object),
        np.array([shape.colour for shape in tracing.shapes], dtype=np.uint8),
    )
    runs: dict[int, Run | None] = {shape.colour: shape.run for shape in tracing.shapes}
    colours = Colours.unnamed(tracing.palette, tuple(runs.get(k) for k in range(len(tracing.palette))))
    edited = apply_edits(traced, colours, settings, paper_hex=paper_hex.lower())
    coverage, colours = _used_only(edited.coverage, edited.colours)
    check = check_coverage(coverage.polygons, width_mm=tracing.width_mm, height_mm=tracing.height_mm)
    named = _named(colours)
    return Design(
        title=title,
        width_mm=tracing.width_mm,
        height_mm=tracing.height_mm,
        pixels_per_mm=tracing.pixels_per_mm,
        paper_hex=paper_hex.lower(),
        palette=named,
        shapes=_shapes(coverage, colours.runs),
        coverage_valid=check.valid,
        gap_mm2=check.gap_mm2,
        overlap_mm2=check.overlap_mm2,
        median_delta_e00=tracing.median_delta_e00,
        lost_percent=tracing.lost_percent,
        findings=(*tracing.findings, *edited.findings, *judge_shapes(coverage, named, settings)),
    )


def make_design(
    pixels: NDArray[np.uint8],
    *,
    title: str,
    width_mm: float,
    paper_hex: str,
    settings: DesignTable,
    notes: tuple[Finding, ...] = (),
) -> Design:
    """Turn an (H, W, 3) uint8 sRGB picture into a design, ``width_mm`` wide: traced, then finished."""
    tracing = trace_picture(pixels, width_mm=width_mm, settings=settings, notes=notes)
    return finish_design(tracing, title=title, paper_hex=paper_hex, settings=settings)

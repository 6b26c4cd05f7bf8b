"""Finding gradations: bands whose colours run into each other are one shape whose colour runs.

Flat paint steps at its edges; a band that quantising cut out of a gradation does not: on both sides of its
border the colour is the same. Regions with such soft borders are taken together and a run is fitted to their
pixels. It stands when it leaves far less of the colours unexplained than the flat bands do, when the colours
go one way and do not come back, and when there is no step inside. Other regions whose pixels fit the run
belong to it too: a sky goes on behind clouds and roofs.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from blockwright.colour.levels import levels_to_lab
from blockwright.design.flattening import FlatPicture
from blockwright.design.run_bands import first_bands
from blockwright.design.run_edges import edges_along
from blockwright.design.run_fitting import Fitted, fit_along_edge, fit_straight, runs_along_edge
from blockwright.design.run_round import fit_round
from blockwright.geometry.coverage import Coverage
from blockwright.geometry.running import position, run_lab
from blockwright.model.axis import Axis
from blockwright.model.design import Run

MOST_RUNS = 24
"""More gradations than this are shading, not brushwork on blocks; the largest are taken."""

_ACROSS_MM, _ACROSS_PX = 0.9, 8
"""How far apart two pixels are that are compared across a border: farther than a blurred edge is wide."""

_PAIRS = 4_000_000
"""Pixels from which borders are looked at, at most."""

_LEAST_PAIRS = 12
"""Comparisons that a border needs."""

_SOFT, _GENTLE = 0.55, 0.75
"""Of what two regions differ by, less than this part across their border is none; up to the second it may be
the end of a run, where calm paint begins."""

_SAMPLES = 360_000
"""Pixels that runs are fitted to and judged by, at most, in the whole picture."""

_FITTED = 16_000
"""Pixels that one run is fitted to, at most."""

_LEAST_SAMPLES = 150
"""A run needs this many pixels."""

_LEAST_SHARE = 5e-4
"""And this part of the picture: less is shading that a brush on a block does not do."""

_LEAST_CHANGE = 9.0
"""A run that changes by less from end to end (CIELAB units) is flat paint, unevenly laid."""

_BETTER = 0.62
"""What a run leaves unexplained may be this part of what its bands leave, at most."""

_MOST_RMS = 3.2
"""And it may miss the pixels by this much, CIELAB units: the brush's own unevenness."""

_SAME_WAY = 0.95
"""The cosine of the angle between two runs that may be one: 18 degrees."""

_CLOSE = 0.8
"""A straight run that misses the pixels by less than this is not held against edges."""

_CURVED = 0.8
"""A run along an edge must miss by less than this part of what a straight one misses by."""

_AS_ROUND = 1.1
"""A run round a point may miss by this many times more than one along an edge, and is taken before it."""

_STEP_SHARE = 0.3
"""A change within a fortieth of a run that is this part of all of it is a step."""

_FITS, _FITS_WORST = 2.0, 4.0
"""A region fits a run when half of its pixels are within the first and nine of ten within the second."""

_LIKELY, _PLACES = 8.0, 12
"""A region whose mean colour is farther than this from the run's at so many places is not looked at."""

_TELLS = 2.5
"""A region apart from the others joins only if the run changes by so much within it, and it does too."""

_AT_ENDS = 3.0
"""Calm paint that a gentle border joins to an end of a run may miss it by so many times more: the end may
have been found too early."""

_BEYOND = 0.04
"""So near to an end, as a part of the run, counts as beyond it: borders of bands waver."""

_FOLLOWED = 0.5
"""Within a narrow first band the colour must change by more than this part of what the run does."""

_BAR_MM = 3.0
"""A run goes on behind what is no wider than this, mm: bars, posts, branches."""

_ROUNDS = 10
"""Times that regions are dropped or taken in and the run is fitted anew."""


@dataclass(frozen=True, slots=True)
class FoundRun:
    """A run and the regions that it colours, as places in the coverage."""

    run: Run
    regions: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Samples:
    """Pixels on a regular grid, in order of their regions; region k has those from ``first[k]``."""

    region: NDArray[np.int32]
    points: NDArray[np.float64]
    lab: NDArray[np.float64]
    calm: NDArray[np.bool_]
    first: NDArray[np.int64]

    def of(self, regions: NDArray[np.int64], *, calm: bool = True) -> NDArray[np.int64]:
        """Places of the samples of some regions; only those away from edges unless they are few."""
        parts = [np.arange(self.first[k], self.first[k + 1]) for k in regions]
        found = np.concatenate(parts) if parts else np.empty(0, dtype=np.int64)
        quiet = found[self.calm[found]]
        return quiet if calm and len(quiet) >= min(8, len(found)) else found


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Groups of regions that soft borders hold together, the largest first, and pairs with gentle borders;
    with pixels and the mean colour of every region.
    """

    samples: _Samples
    mean: NDArray[np.float64]
    groups: list[NDArray[np.int64]]
    gentle: NDArray[np.int64]


def _sampled(flat: FlatPicture, regions: NDArray[np.int32], count: int, pixels_per_mm: float) -> _Samples:
    step = max(1, int(np.ceil((regions.size / _SAMPLES) ** 0.5)))
    rows, columns = (np.arange(step // 2, size, step) for size in regions.shape)
    region = regions[step // 2 :: step, step // 2 :: step].ravel()
    order = np.argsort(region, kind="stable")
    places = np.stack(np.meshgrid(columns, rows), axis=2).reshape(-1, 2)[order]
    region = region[order]
    return _Samples(
        region=region,
        points=np.asarray((places + 0.5) / pixels_per_mm, dtype=np.float64),
        lab=levels_to_lab(flat.pixels[places[:, 1], places[:, 0]]),
        calm=flat.flat[places[:, 1], places[:, 0]],
        first=np.searchsorted(region, np.arange(count + 1)),
    )


def _borders(
    flat: FlatPicture, regions: NDArray[np.int32], across_px: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Pairs of regions that meet, how often they were compared, and their mean difference there, CIELAB."""
    step = max(1, int(np.ceil(regions.size / _PAIRS)))
    keys, changes, most = [], [], int(regions.max()) + 1
    for one, other, left, right in (
        (regions[::step, :-across_px], regions[::step, across_px:],
         flat.pixels[::step, :-across_px], flat.pixels[::step, across_px:]),
        (regions[:-across_px, ::step], regions[across_px:, ::step],
         flat.pixels[:-across_px, ::step], flat.pixels[across_px:, ::step]),
    ):  # fmt: skip
        met = one != other
        a, b = one[met].astype(np.int64), other[met].astype(np.int64)
        change = levels_to_lab(right[met]) - levels_to_lab(left[met])
        changes.append(np.where((a > b)[:, None], -change, change))
        keys.append(np.minimum(a, b) * most + np.maximum(a, b))
    key, change = np.concatenate(keys), np.concatenate(changes)
    found, which, count = np.unique(key, return_inverse=True, return_counts=True)
    mean = np.stack([np.bincount(which, band, len(found)) / count for band in change.T], axis=1)
    pairs = np.stack(np.divmod(found, most), axis=1)
    return pairs, count, mean


def _means(samples: _Samples, count: int) -> NDArray[np.float64]:
    """The mean colour of every region, NaN where there is no sample."""
    weight = np.where(samples.calm, 1.0, 1e-3)
    total = np.bincount(samples.region, weight, count)
    with np.errstate(invalid="ignore"):
        return np.stack(
            [np.bincount(samples.region, weight * band, count) / total for band in samples.lab.T], axis=1
        )


def _groups(
    flat: FlatPicture,
    regions: NDArray[np.int32],
    mean: NDArray[np.float64],
    size: NDArray[np.int64],
    across_px: int,
) -> tuple[list[NDArray[np.int64]], NDArray[np.int64]]:
    """Regions that soft borders hold together, the largest groups first, and pairs with gentle borders.

    ``size`` is in samples.
    """
    count = len(size)
    if across_px >= min(regions.shape) or count < 2:
        return [], np.empty((0, 2), dtype=np.int64)
    pairs, often, change = _borders(flat, regions, across_px)
    apart = mean[pairs[:, 1]] - mean[pairs[:, 0]]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (change * apart).sum(axis=1) / (apart**2).sum(axis=1)
    soft, gentle = (pairs[(often >= _LEAST_PAIRS) & (share < most)] for most in (_SOFT, _GENTLE))
    links = coo_array((np.ones(len(soft)), (soft[:, 0], soft[:, 1])), shape=(count, count))
    _, group = connected_components(links, directed=False)
    members = np.bincount(group)
    weight = np.bincount(group, size)
    wanted = np.flatnonzero((members > 1) & (weight >= max(_LEAST_SAMPLES, _LEAST_SHARE * size.sum())))
    largest_first = wanted[np.argsort(-weight[wanted], kind="stable")]
    return [np.flatnonzero(group == g) for g in largest_first], gentle


def _chosen(samples: _Samples, regions: NDArray[np.int64]) -> NDArray[np.int64]:
    """The samples that a run of these regions is fitted to."""
    found = samples.of(regions)
    return found[:: max(1, len(found) // _FITTED)]


def _fitted(
    samples: _Samples, regions: NDArray[np.int64], coverage: Coverage, mean: NDArray[np.float64]
) -> Fitted | None:
    """The run that explains some regions best, straight or along an edge; None for too few pixels."""
    chosen = _chosen(samples, regions)
    if len(chosen) < _LEAST_SAMPLES:
        return None
    points, lab = samples.points[chosen], samples.lab[chosen]
    outline = shapely.get_coordinates(coverage.polygons[regions])
    best = fit_straight(points, lab, outline)
    if best.rms <= _CLOSE:
        return best
    for edge in edges_along(coverage, regions, mean[regions]):
        # A straight axis says the same with less, and is easier to brush.
        if runs_along_edge(points, lab, edge, rms=_CURVED * best.rms):
            curved = fit_along_edge(points, lab, edge)
            if curved.rms < _CURVED * best.rms:
                best = curved
    # The rim of a whole disc is an edge, too, but its middle says the same with one point.
    most = best.rms * (_AS_ROUND if best.run.axis.edge else _CURVED)
    turned = fit_round(points, lab, rms=most)
    return turned if turned is not None and turned.rms < most else best


def _misses(samples: _Samples, places: NDArray[np.int64], run: Run) -> NDArray[np.float64]:
    return np.asarray(np.linalg.norm(samples.lab[places] - run_lab(run, samples.points[places]), axis=1))


def _belongs(samples: _Samples, region: int, run: Run, *, beside: bool, gently: bool = False) -> bool:
    """Whether the pixels of a region are those of the run at their places.

    ``beside`` tells that it touches the run's regions, ``gently`` that the colour hardly changes there.
    """
    places = samples.of(np.array([region]))
    if not len(places):
        return False
    places = places[:: max(1, len(places) // 1000)]
    off = _misses(samples, places, run)
    slack = _AT_ENDS if gently and _beyond_an_end(samples, places, run) else 1.0
    if np.median(off) > slack * _FITS or np.quantile(off, 0.9) > slack * _FITS_WORST:
        return False
    told, own = run_lab(run, samples.points[places]), samples.lab[places]
    changes = float(np.linalg.norm(told.max(axis=0) - told.min(axis=0)))
    about_mean = float(np.sqrt(((own - own.mean(axis=0)) ** 2).sum(axis=1).mean()))
    better = float(np.sqrt((off**2).mean())) < 0.8 * about_mean
    return beside or (better and changes >= _TELLS)


def _beyond_an_end(samples: _Samples, places: NDArray[np.int64], run: Run) -> bool:
    """Whether pixels lie beyond one end of a run, nearly all of them."""
    along = position(run.axis, samples.points[places])
    return bool(max((along < _BEYOND).mean(), (along > 1.0 - _BEYOND).mean()) > 0.9)


def _likely(samples: _Samples, mean: NDArray[np.float64], run: Run) -> NDArray[np.int64]:
    """Regions whose mean colour is about that of the run, judged by a few places in each, in order."""
    begins, size = samples.first[:-1], np.diff(samples.first)
    few = begins[:, None] + (size[:, None] * (np.arange(_PLACES) + 0.5) / _PLACES).astype(np.int64)
    few = np.minimum(few, len(samples.region) - 1)
    told = run_lab(run, samples.points[few.ravel()]).reshape(len(size), _PLACES, 3).mean(axis=1)
    off = np.linalg.norm(mean - told, axis=1)
    return np.flatnonzero((off <= _LIKELY) & (size > 0))


def _gone_one_way(run: Run) -> bool:
    """Whether the colours leave the start and near the end all the way, in more than one step."""
    nodes = np.array(run.lab)
    if np.linalg.norm(nodes[-1] - nodes[0]) < _LEAST_CHANGE:
        return False
    left = np.linalg.norm(nodes - nodes[0], axis=1)
    ahead = np.linalg.norm(nodes - nodes[-1], axis=1)
    slack = 1.5 + 0.05 * left[-1]
    back = max(float((np.maximum.accumulate(d) - d).max()) for d in (left, ahead[::-1]))
    steps = np.linalg.norm(np.diff(nodes, axis=0), axis=1)
    return back <= slack and float(steps.max()) < 0.6 * float(steps.sum())


def _steps_inside(samples: _Samples, places: NDArray[np.int64], run: Run) -> bool:
    """Whether the pixels change at one place as no gradation does."""
    along = position(run.axis, samples.points[places])
    inner = (along > 0.0) & (along < 1.0)
    if np.count_nonzero(inner) < 200:
        return False
    where = np.minimum((along[inner] * 40).astype(int), 39)
    count = np.bincount(where, minlength=40)
    lab = samples.lab[places][inner]
    with np.errstate(invalid="ignore"):
        mean = np.stack([np.bincount(where, band, 40) / count for band in lab.T], axis=1)[count > 4]
    if len(mean) < 8:
        return True
    change = np.linalg.norm(np.diff(mean, axis=0), axis=1)
    return float(change.max()) > _STEP_SHARE * float(np.linalg.norm(mean[-1] - mean[0]))


def _stands(samples: _Samples, regions: NDArray[np.int64], fitted: Fitted) -> bool:
    """Whether a run is to be believed."""
    if len(regions) < 2 or fitted.rms > _MOST_RMS or not _gone_one_way(fitted.run):
        return False
    places = _chosen(samples, regions)
    of = samples.region[places]
    size = np.bincount(of)
    lab = samples.lab[places]
    with np.errstate(invalid="ignore"):
        mean = np.stack([np.bincount(of, band) / size for band in lab.T], axis=1)
    bands = float(np.sqrt(((lab - mean[of]) ** 2).sum(axis=1).mean()))
    off = float(np.sqrt((_misses(samples, places, fitted.run) ** 2).mean()))
    return off <= _BETTER * bands and not _steps_inside(samples, places, fitted.run)


def _beside(coverage: Coverage, tree: shapely.STRtree, regions: NDArray[np.int64]) -> set[int]:
    """Regions that touch the given ones, or that only a bar or a post keeps apart from them."""
    _, met = tree.query(coverage.polygons[regions], predicate="dwithin", distance=_BAR_MM)
    return set(met.tolist()) - set(regions.tolist())


def _met(pairs: NDArray[np.int64], regions: NDArray[np.int64]) -> set[int]:
    """The regions that are paired with any of some regions."""
    inside = np.isin(pairs, regions)
    return set(pairs[inside[:, ::-1]].tolist())


def _settled(
    samples: _Samples,
    mean: NDArray[np.float64],
    group: NDArray[np.int64],
    free: set[int],
    coverage: Coverage,
    tree: shapely.STRtree,
    gentle: NDArray[np.int64],
) -> FoundRun | None:
    """Fit a run, drop what does not fit it, take in what does, until nothing changes."""
    regions = group
    fitted: Fitted | None = None
    for _ in range(_ROUNDS):
        fitted = _fitted(samples, regions, coverage, mean)
        if fitted is None or not _gone_one_way(fitted.run):
            return None
        beside = _beside(coverage, tree, regions) | set(regions.tolist())
        likely = [k for k in _likely(samples, mean, fitted.run).tolist() if k in free]
        met = _met(gentle, regions)
        fits = [k for k in likely if _belongs(samples, k, fitted.run, beside=k in beside, gently=k in met)]
        kept = np.array(fits, dtype=np.int64)
        if not len(set(fits) & set(group.tolist())):
            return None
        if np.array_equal(kept, regions):
            break
        regions = kept
    if fitted is None or not _stands(samples, regions, fitted):
        return None
    found = FoundRun(fitted.run, tuple(regions.tolist()))
    return _with_first_band(samples, mean, found, free, coverage, tree) or found


def _follows(samples: _Samples, region: int, run: Run) -> bool:
    """Whether the colour changes within a region as the run does there, and is no flat line at its end."""
    places = samples.of(np.array([region]))
    ahead = np.subtract(run.lab[-1], run.lab[0])
    told, own = (lab @ ahead for lab in (run_lab(run, samples.points[places]), samples.lab[places]))
    told -= told.mean()
    return float(told @ own) > _FOLLOWED * float(told @ told)


def _with_first_band(
    samples: _Samples,
    mean: NDArray[np.float64],
    found: FoundRun,
    free: set[int],
    coverage: Coverage,
    tree: shapely.STRtree,
) -> FoundRun | None:
    """The run with a narrow band at one of its ends, which sets in too steeply to be softly joined.

    Left out, it would make the run begin where the band ends; along an edge it would take that for its edge.
    """
    regions = np.array(found.regions, dtype=np.int64)
    beside = np.array(sorted(_beside(coverage, tree, regions) & free), dtype=np.int64)
    for k in first_bands(coverage, beside, mean[beside], found.run, regions):
        both = np.sort(np.append(regions, k))
        fitted = _fitted(samples, both, coverage, mean)
        if (
            fitted is not None
            and _gone_one_way(fitted.run)
            and _belongs(samples, k, fitted.run, beside=True)
            and _follows(samples, k, fitted.run)
            and _stands(samples, both, fitted)
        ):
            return FoundRun(fitted.run, tuple(both.tolist()))
    return None


def look_for_bands(
    flat: FlatPicture, regions: NDArray[np.int32], count: int, *, pixels_per_mm: float
) -> Bands:
    """Look where the regions of a picture run into each other.

    ``regions`` (H, W) int32 gives for every pixel which of the ``count`` regions it is of.
    """
    samples = _sampled(flat, regions, count, pixels_per_mm)
    across_px = max(_ACROSS_PX, round(_ACROSS_MM * pixels_per_mm))
    mean = _means(samples, count)
    return Bands(samples, mean, *_groups(flat, regions, mean, np.diff(samples.first), across_px))


def find_runs(bands: Bands, coverage: Coverage) -> tuple[FoundRun, ...]:
    """The gradations of a picture, the largest first.

    ``coverage``, in mm, has the polygons of the regions in their order. Every region belongs to one run at
    most. A picture of flat paint has none.
    """
    samples, mean, gentle = bands.samples, bands.mean, bands.gentle
    if not bands.groups:
        return ()
    tree = shapely.STRtree(coverage.polygons)
    free = set(np.flatnonzero(np.diff(samples.first) > 0).tolist())
    found: list[FoundRun] = []
    for group in bands.groups:
        own = np.array([k for k in group.tolist() if k in free], dtype=np.int64)
        if len(own) < 2 or _spread(mean[own]) < _LEAST_CHANGE / 2.0:
            continue
        run = _settled(samples, mean, own, free, coverage, tree, gentle)
        if run is not None:
            found.append(run)
            free -= set(run.regions)
    joined = _joined(samples, coverage, found)
    for k, run in enumerate(joined):
        if run not in found:
            own = np.array(run.regions, dtype=np.int64)
            # What lay between two runs belonged to neither.
            joined[k] = _settled(samples, mean, own, free | set(run.regions), coverage, tree, gentle) or run
            free -= set(joined[k].regions)
    return tuple(joined[:MOST_RUNS])


def _spread(colours: NDArray[np.float64]) -> float:
    """How far apart the colours are, in all."""
    return float(np.linalg.norm(np.nanmax(colours, axis=0) - np.nanmin(colours, axis=0)))


def _joined(samples: _Samples, coverage: Coverage, found: list[FoundRun]) -> list[FoundRun]:
    """Straight runs that are one, which something lies over: water in front of a bank and behind it."""
    found = list(found)
    k = 0
    while k < len(found):
        for other in range(k + 1, len(found)):
            both = np.array(sorted(found[k].regions + found[other].regions))
            if not _alike(found[k].run.axis, found[other].run.axis):
                continue
            chosen = _chosen(samples, both)
            outline = shapely.get_coordinates(coverage.polygons[both])
            fitted = fit_straight(samples.points[chosen], samples.lab[chosen], outline)
            if _stands(samples, both, fitted) and all(
                _belongs(samples, region, fitted.run, beside=True) for region in both.tolist()
            ):
                found[k] = FoundRun(fitted.run, tuple(both.tolist()))
                del found[other]
                break
        else:
            k += 1
    return found


def _alike(one: Axis, other: Axis) -> bool:
    """Whether two straight runs go the same way."""
    if one.edge or other.edge:
        return False
    ways = [np.subtract(axis.end, axis.start) / max(axis.length_mm, 1e-9) for axis in (one, other)]
    return float(ways[0] @ ways[1]) > _SAME_WAY

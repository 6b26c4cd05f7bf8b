"""From the patches of a calibration sheet to inks: what each absorbs and scatters, and how surely.

Every patch over paper and over black, of inks and of their mixtures, goes into one fit
(:mod:`blockwright.colour.fitting`) with all that share an ink with it. A first round leaves the films of the
second and third pass open; what they are found to be gives the transfer factor of each pass; a second round
holds them to it. The spectrum of a patch is measured, or, where only its colour is known, the calmest one.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.bands import BAND_COUNT
from blockwright.colour.films import film_thickness, overprinted
from blockwright.colour.fitting import MEASURED_NOISE, SCANNED_NOISE, InkFit, Patch, fit_inks
from blockwright.colour.gamut import to_display
from blockwright.colour.inks import to_optics
from blockwright.colour.optics import FILM_VARIATION, InkOptics, uncertainty_delta_e00
from blockwright.colour.smooth import smooth_reflectance_of_linear
from blockwright.colour.spectra import reflectance_to_lab, reflectance_to_linear
from blockwright.colour.srgb import srgb_to_hex
from blockwright.model.errors import InkError
from blockwright.model.inks import Bands, Optics, Origin
from blockwright.model.swatches import PatchPlace, SwatchPage, SwatchPlan
from blockwright.model.units import Lab

CUT_OFF_NOISE = 0.15
"""Standard deviation of the reflectance of a patch that is stronger than sRGB holds, 0 to 1: what the picture
has for it is a bound, not a value. So much that of what is told of such inks two of three come true
(bench/sheets.py)."""

OPEN_FILM = 0.1
"""How freely the film of a later pass is found in the first round (standard deviation of its logarithm)."""

TRANSFER_BOUNDS = (0.2, 1.5)
"""A later pass lays down no less and no more than these parts of the first [CP]."""

SHOWN_PASSES = 4
"""A colour is printed in one to four passes [CP]."""

KEPT_VARIANCE = 0.999
"""Directions of an ink's uncertainty are kept until they hold this part of its variance."""

MISFIT_DELTA_E00 = 6.0
"""Patches farther than this from what their inks predict are no matter of uneven films: twice what
two-constant theory misses in mixtures of measured oil paints."""

_DARKEST, _LIGHTEST = 1e-3, 0.999
"""A colour that no surface can have is brought nearer to a grey within these, in linear light."""

_TOWARDS_GREY = 0.9
"""How much of its colourfulness a colour that no surface can have keeps, again and again, until one can."""

Spectrum = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PassSwatch:
    """What an ink is predicted to look like on the sheet's paper after some passes."""

    passes: int
    lab: Lab
    hex: str


@dataclass(frozen=True, slots=True)
class FoundInk:
    """An ink as it was found.

    ``transfer`` is what each pass after the first lays down as a part of it; ``patches`` how many patches
    tell of the ink, mixtures included; ``over_black`` whether any stands over black, without which
    scattering is a guess. ``residual_delta_e00`` is how far the worst of them is from what the ink predicts;
    ``uncertainty_delta_e00`` how far off a prediction of one pass on paper may be: what the fit leaves open,
    and how far its patches lie from it in the mean (root of the sum of squares).
    """

    name: str
    origin: Origin
    optics: Optics
    transfer: tuple[float, ...]
    swatches: tuple[PassSwatch, ...]
    patches: int
    over_black: bool
    residual_delta_e00: float
    uncertainty_delta_e00: float


@dataclass(frozen=True, slots=True)
class FoundMixture:
    """A mixture of the sheet: how far its worst patch is from what its inks predict."""

    parts: tuple[tuple[str, float], ...]
    patches: int
    residual_delta_e00: float


@dataclass(frozen=True, slots=True)
class FoundInks:
    """What the patches of a sheet tell; ``notes`` are plain sentences on what was left out.

    ``paper`` is the reflectance of the bare sheet, the mean of its places.
    """

    inks: tuple[FoundInk, ...]
    mixtures: tuple[FoundMixture, ...]
    notes: tuple[str, ...]
    paper: Bands


def find_inks(
    pages: Sequence[SwatchPage],
    spectra: Mapping[str, Spectrum],
    *,
    origin: Origin,
    cut_off: Collection[str] = (),
) -> FoundInks:
    """Find the inks of a calibration sheet from the reflectance, shape (36,), of its patches by their codes.

    ``origin`` "measured" is for spectra of an instrument, "scanned" for those made from colours. Patches that
    are missing are left out. ``cut_off`` are the codes of those that a picture could not hold: what it has
    for them is a bound, and counts for little. Raises InkError when the bare paper is missing, or every patch
    of ink is.
    """
    plan = pages[0].plan
    placed, notes = _placed_patches(pages, spectra)
    if not placed:
        raise InkError("No patch of ink of the calibration sheet is there; was the right sheet.json given?")
    paper = np.mean(
        [spectra[p.code] for page in pages for p in page.patches if p.kind == "paper" and p.code in spectra],
        axis=0,
    )
    noise = MEASURED_NOISE if origin == "measured" else SCANNED_NOISE
    inks: list[FoundInk] = []
    mixtures: list[FoundMixture] = []
    names = _in_order(plan)
    for group in _groups(plan, {place.row for place, _ in placed if place.row is not None}):
        own = [(place, ground) for place, ground in placed if place.row in group]
        together = [name for name in names if any(name in dict(plan.rows[row].parts) for row in group)]
        fit, transfers = _fit(plan, together, own, spectra, noise, cut_off)
        inks += [_found_ink(plan, fit, i, own, transfers, paper, origin) for i in range(len(together))]
        mixtures += _found_mixtures(plan, fit, own)
    inks.sort(key=lambda ink: names.index(ink.name))
    notes += _misfits(inks, mixtures)
    lost = [name for name in names if name not in {ink.name for ink in inks}]
    if lost:
        notes.append(f"No patch tells of: {', '.join(lost)}.")
    return FoundInks(tuple(inks), tuple(mixtures), tuple(notes), tuple(paper.tolist()))


def spectrum_of_colour(linear: Sequence[float]) -> Spectrum:
    """The calmest reflectance, shape (36,), of a linear sRGB colour; one that no surface has is made greyer.

    Colours outside sRGB, below 0 or above 1, are taken as they are.

    >>> spectrum_of_colour((0.4, 0.2, 0.1)).shape
    (36,)
    """
    colour = np.asarray(linear, dtype=np.float64)
    grey = np.full(3, float(np.clip(colour.mean(), _DARKEST, _LIGHTEST)))
    for _ in range(40):
        try:
            return smooth_reflectance_of_linear(colour)
        except InkError:
            colour = grey + _TOWARDS_GREY * (colour - grey)
    return np.full(BAND_COUNT, grey[0])


def _misfits(inks: Sequence[FoundInk], mixtures: Sequence[FoundMixture]) -> list[str]:
    """What does not go together; a mixture that does not fit spoils its inks, too, so it is named first."""
    notes, spoilt = [], set[str]()
    for mixture in mixtures:
        if mixture.residual_delta_e00 > MISFIT_DELTA_E00:
            spoilt |= {name for name, _ in mixture.parts}
            notes.append(
                f"The row {' + '.join(name for name, _ in mixture.parts)} is not what its inks make together "
                f"(off by {mixture.residual_delta_e00:.0f}); were these inks mixed, in these shares?"
            )
    for ink in inks:
        if ink.residual_delta_e00 > MISFIT_DELTA_E00 and ink.name not in spoilt:
            notes.append(
                f"The patches of {ink.name} do not go together (off by {ink.residual_delta_e00:.0f}); "
                "are they in the right boxes?"
            )
    return notes


def _in_order(plan: SwatchPlan) -> list[str]:
    return list(dict.fromkeys(name for row in plan.rows for name, _ in row.parts))


def _placed_patches(
    pages: Sequence[SwatchPage], spectra: Mapping[str, Spectrum]
) -> tuple[list[tuple[PatchPlace, Spectrum]], list[str]]:
    """Every patch of ink that is there, with the spectrum of what it stands on."""
    placed: list[tuple[PatchPlace, Spectrum]] = []
    notes = []
    for page in pages:
        here = [patch for patch in page.patches if patch.code in spectra]
        ink = [patch for patch in here if patch.kind == "ink"]
        paper = [patch for patch in here if patch.kind == "paper"]
        black = [patch for patch in here if patch.kind == "black"]
        if not ink:
            continue
        if not paper:
            codes = [patch.code for patch in page.patches if patch.kind == "paper"]
            raise InkError(
                f"The bare paper of page {page.page} is missing; one of {', '.join(codes)} is needed."
            )
        for patch in ink:
            bare = paper if patch.ground == "paper" else black
            if bare:
                placed.append((patch, _ground(patch, bare, spectra)))
        if not black and any(patch.ground == "black" for patch in ink):
            notes.append(
                f"The bare black of page {page.page} is missing, so patches over black are left out."
            )
    return placed, notes


def _ground(patch: PatchPlace, bare: Sequence[PatchPlace], spectra: Mapping[str, Spectrum]) -> Spectrum:
    """What a patch stands on: the mean of the bare places, the nearer the more."""
    away = np.array([np.hypot(patch.box[0] - p.box[0], patch.box[1] - p.box[1]) for p in bare])
    weight = 1.0 / (away + patch.box[2])
    ground: Spectrum = np.average([spectra[p.code] for p in bare], axis=0, weights=weight)
    return ground


def _groups(plan: SwatchPlan, rows: set[int]) -> list[set[int]]:
    """Rows that share inks, directly or through others."""
    groups: list[tuple[set[int], set[str]]] = []
    for row in sorted(rows):
        own, names = {row}, {name for name, _ in plan.rows[row].parts}
        apart = []
        for other, others in groups:
            if others & names:
                own, names = own | other, names | others
            else:
                apart.append((other, others))
        groups = [*apart, (own, names)]
    return [group for group, _ in groups]


def _fit(
    plan: SwatchPlan,
    names: Sequence[str],
    own: Sequence[tuple[PatchPlace, Spectrum]],
    spectra: Mapping[str, Spectrum],
    noise: float,
    cut_off: Collection[str],
) -> tuple[InkFit, dict[int, tuple[float, ...]]]:
    """The fit of inks that belong together, and the transfer factors of each row."""
    patches = [
        Patch(
            spectra[place.code],
            ground,
            tuple(dict(plan.rows[place.row or 0].parts).get(name, 0.0) for name in names),
            thickness=float(place.passes),
            film_variation=FILM_VARIATION if place.passes == 1 else OPEN_FILM,
            name=f"patch {place.code}",
            noise=CUT_OFF_NOISE if place.code in cut_off else None,
        )
        for place, ground in own
    ]
    first = fit_inks(names, patches, noise=noise)
    transfers = _transfers([place for place, _ in own], first.thickness)
    if not any(transfers.values()):
        return first, transfers
    held = [
        replace(
            patch,
            thickness=film_thickness(place.passes, transfer=transfers[place.row or 0] or (1.0,)),
            film_variation=FILM_VARIATION,
        )
        for patch, (place, _) in zip(patches, own, strict=True)
    ]
    return fit_inks(names, held, noise=noise), transfers


def _transfers(places: Sequence[PatchPlace], thickness: Sequence[float]) -> dict[int, tuple[float, ...]]:
    """What each pass after the first laid down as a part of the first, for each row; empty when unknown."""
    films: dict[tuple[int, int], list[float]] = {}
    for place, film in zip(places, thickness, strict=True):
        films.setdefault((place.row or 0, place.passes), []).append(film)
    middle = {key: float(np.exp(np.mean(np.log(found)))) for key, found in films.items()}
    transfers: dict[int, tuple[float, ...]] = {}
    for row in {row for row, _ in middle}:
        factors: list[float] = []
        passes = 2
        while (row, 1) in middle and (row, passes) in middle:
            laid = (middle[row, passes] - middle[row, passes - 1]) / middle[row, 1]
            factors.append(float(np.clip(laid, *TRANSFER_BOUNDS)))
            passes += 1
        transfers[row] = tuple(factors)
    return transfers


def _found_ink(
    plan: SwatchPlan,
    fit: InkFit,
    index: int,
    own: Sequence[tuple[PatchPlace, Spectrum]],
    transfers: Mapping[int, tuple[float, ...]],
    paper: Spectrum,
    origin: Origin,
) -> FoundInk:
    name = fit.inks.names[index]
    row = next((row for row in transfers if plan.rows[row].parts == ((name, 1.0),)), None)
    transfer = (transfers[row] if row is not None else ()) or (1.0,)
    telling = [
        (place, apart)
        for (place, _), apart in zip(own, fit.residual_delta_e00, strict=True)
        if name in dict(plan.rows[place.row or 0].parts)
    ]
    alone = InkOptics(
        (name,),
        fit.inks.k[index : index + 1].copy(),
        fit.inks.s[index : index + 1].copy(),
        *_condensed(fit.inks.log_k_spread[:, index], fit.inks.log_s_spread[:, index]),
    )

    missed = float(np.sqrt(np.mean([apart**2 for _, apart in telling])))

    def one_pass(k: Spectrum, s: Spectrum) -> Spectrum:
        return overprinted(k[..., 0, :], s[..., 0, :], paper)

    left_open = uncertainty_delta_e00(alone, one_pass)
    told = float(np.hypot(left_open, missed))
    return FoundInk(
        name=name,
        origin=origin,
        optics=to_optics(_widened(alone, told / left_open if left_open > 0.0 else 1.0)),
        transfer=transfer,
        swatches=tuple(_swatch(alone, paper, passes, transfer) for passes in range(1, SHOWN_PASSES + 1)),
        patches=len(telling),
        over_black=any(place.ground == "black" for place, _ in telling),
        residual_delta_e00=max(apart for _, apart in telling),
        uncertainty_delta_e00=told,
    )


def _widened(ink: InkOptics, factor: float) -> InkOptics:
    """The same ink, less surely known: so that what is predicted from it later is as sure as what is told."""
    return InkOptics(ink.names, ink.k, ink.s, factor * ink.log_k_spread, factor * ink.log_s_spread)


def _condensed(log_k: Spectrum, log_s: Spectrum) -> tuple[Spectrum, Spectrum]:
    """The same uncertainty of one ink, (directions, bands) each, in as few directions as hold it."""
    _, sizes, axes = np.linalg.svd(np.concatenate([log_k, log_s], axis=1), full_matrices=False)
    held = np.cumsum(sizes**2) / max(float((sizes**2).sum()), 1e-300)
    count = min(int(np.searchsorted(held, KEPT_VARIANCE)) + 1, len(sizes))
    kept = sizes[:count, None] * axes[:count]
    return kept[:, None, :BAND_COUNT].copy(), kept[:, None, BAND_COUNT:].copy()


def _swatch(ink: InkOptics, paper: Spectrum, passes: int, transfer: tuple[float, ...]) -> PassSwatch:
    seen = overprinted(ink.k[0], ink.s[0], paper, passes=passes, transfer=transfer)
    lightness, a, b = reflectance_to_lab(seen).tolist()
    shown = to_display(reflectance_to_linear(seen)).srgb
    return PassSwatch(passes, (lightness, a, b), srgb_to_hex(shown))


def _found_mixtures(
    plan: SwatchPlan, fit: InkFit, own: Sequence[tuple[PatchPlace, Spectrum]]
) -> list[FoundMixture]:
    apart: dict[int, list[float]] = {}
    for (place, _), residual in zip(own, fit.residual_delta_e00, strict=True):
        if place.row is not None and len(plan.rows[place.row].parts) > 1:
            apart.setdefault(place.row, []).append(residual)
    return [FoundMixture(plan.rows[row].parts, len(each), max(each)) for row, each in sorted(apart.items())]

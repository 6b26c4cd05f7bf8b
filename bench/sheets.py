"""How truly a calibration sheet is read: ``python -m bench.sheets`` prints the figures, in some seconds.

Our own PDF of a sheet is drawn as pixels, its patches are filled with known colours, and the page is
photographed by computation: turned, in perspective, unevenly lit, noisy. What is read is compared with what
was filled in.
"""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray

from bench.figures import Row, Section, at_most, rows_table, verdict
from bench.inks import synthetic_inks
from blockwright.colour import delta_e00, layer_reflectance, linear_to_lab, linear_to_srgb, srgb_to_linear
from blockwright.colour.bands import BAND_COUNT
from blockwright.colour.films import film_thickness
from blockwright.colour.fitting import MEASURED_NOISE
from blockwright.colour.optics import FILM_VARIATION
from blockwright.colour.spectra import reflectance_to_lab, reflectance_to_linear
from blockwright.documents.swatch_sheet import write_swatch_sheet
from blockwright.inks.reading import SheetReading, read_sheet
from blockwright.inks.sheet import lay_out_sheet, plan_sheet
from blockwright.inks.swatch_fit import find_inks, spectrum_of_colour
from blockwright.model.inks import Origin
from blockwright.model.swatches import PatchPlace, SwatchPage

Linear = NDArray[np.float64]

PAPER = np.array([0.82, 0.78, 0.69])
BLACK = np.array([0.022, 0.020, 0.019])
NOISE = 0.006
"""Standard deviation of the picture's noise, in coded values 0 to 1."""

LIGHT_FALL = 0.30
TURN_DEG = 7.0

WHITE, DARK = 0.8, 0.03
"""Reflectance of the paper and of the black ground under synthetic inks, the same in every band."""

STRONG_SEEDS = (21, 31, 41, 102)
"""Sets of twelve synthetic inks of which some are stronger than sRGB holds."""

TRANSFER = (0.85, 0.7)
"""What the second and the third pass of a synthetic ink lay down, as parts of the first."""


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """A computed photo of a page, and the true linear colour of every patch by its code."""

    pixels: NDArray[np.uint8]
    truth: Mapping[str, Linear]


def sample_pages() -> tuple[SwatchPage, ...]:
    """A sheet of four inks and two mixtures on A4."""
    names = ["rose madder", "Prussian blue", "gamboge", "sienna"]
    mixes = [
        [("rose madder", 0.5), ("Prussian blue", 0.5)],
        [("Prussian blue", 0.3), ("gamboge", 0.7)],
    ]
    return lay_out_sheet(plan_sheet(names, mixes, size_mm=(210.0, 297.0)))


def drawn_page(
    page: SwatchPage, *, pixels_per_mm: float, pages: Sequence[SwatchPage] | None = None
) -> Linear:
    """The page of our PDF as linear light, shape (height, width, 3), on the paper of this bench."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.pdf"
        write_swatch_sheet(path, pages or [page])
        document = pypdfium2.PdfDocument(path)
        try:
            bitmap = document[page.page - 1 if pages else 0].render(scale=pixels_per_mm * 25.4 / 72.0)
            coded = np.array(bitmap.to_numpy()[:, :, 2::-1])
        finally:
            document.close()
    ink: Linear = srgb_to_linear(np.arange(256) / 255.0)[coded]
    scene: Linear = BLACK + (PAPER - BLACK) * ink
    return scene


def ink_colours(page: SwatchPage, *, seed: int = 11) -> dict[str, Linear]:
    """A true linear colour for every patch: films of random inks, thicker with every pass."""
    rng = np.random.default_rng(seed)
    k = rng.uniform(0.02, 0.9, (len(page.plan.rows), 3))
    s = rng.uniform(0.02, 0.3, (len(page.plan.rows), 3))
    truth = {}
    for patch in page.patches:
        ground = PAPER if patch.ground == "paper" else BLACK
        if patch.row is None:
            truth[patch.code] = ground
        else:
            truth[patch.code] = layer_reflectance(k[patch.row], s[patch.row], float(patch.passes), ground)
    return truth


def filled(page: SwatchPage, drawn: Linear, truth: Mapping[str, Linear], *, pixels_per_mm: float) -> Linear:
    """The page with its black ground and its patches printed; ink does not reach where a patch stays bare."""
    scene = drawn.copy()
    for band in page.bands:
        _fill(scene, band, BLACK, pixels_per_mm)
    for patch in page.patches:
        if patch.kind != "paper":
            _fill(scene, patch.box, truth[patch.code], pixels_per_mm)
    return scene


def _fill(scene: Linear, box: tuple[float, float, float, float], colour: Linear, scale: float) -> None:
    x, y, width, height = box
    scene[round(y * scale) : round((y + height) * scale), round(x * scale) : round((x + width) * scale)] = (
        colour
    )


def photographed(
    scene: Linear,
    *,
    turn_deg: float = TURN_DEG,
    tilt: float = 0.06,
    light_fall: float = LIGHT_FALL,
    lens_deg: float = 0.0,
    noise: float = NOISE,
    zoom: float = 1.0,
    seed: int = 5,
) -> NDArray[np.uint8]:
    """A photo of a page on a dark table: turned, in perspective, lit from one corner, noisy; sRGB 0..255.

    ``lens_deg`` is how far from its axis the lens sees the corners.
    """
    height, width = scene.shape[:2]
    y, x = np.mgrid[0:height, 0:width]
    away = np.hypot(x / width - 0.25, y / height - 0.2)
    light = 1.0 - light_fall * (away / away.max()) ** 2
    if lens_deg:
        # A lens sees its rim darker by the fourth power of the cosine.
        reach = np.hypot(x / width - 0.5, y / height - 0.5) / np.hypot(0.5, 0.5)
        light *= np.cos(np.arctan(np.tan(np.radians(lens_deg)) * reach)) ** 4
    lit = scene * light[:, :, None]
    side = round(1.12 * float(np.hypot(width, height)) * zoom)
    centre = np.array([width, height]) / 2.0
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=np.float64)
    angle = np.radians(turn_deg)
    turned = (corners - centre) @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    turned *= zoom / (1.0 + tilt * turned[:, 1:] / height)
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), (turned + side / 2.0).astype(np.float32))
    picture = cv2.warpPerspective(
        lit.astype(np.float32),
        matrix,
        (side, side),
        flags=cv2.INTER_AREA if zoom < 1 else cv2.INTER_LINEAR,
        borderValue=(0.03, 0.03, 0.03),
    )
    # A table is many times as fast as a power for every pixel; it is fine enough for 8 bits.
    steps = linear_to_srgb(np.arange(65536) / 65535.0).astype(np.float32)
    coded = steps[np.rint(np.clip(np.asarray(picture), 0.0, 1.0) * 65535.0).astype(np.uint16)]
    coded += noise * np.random.default_rng(seed).standard_normal(coded.shape, dtype=np.float32)
    pixels: NDArray[np.uint8] = np.rint(np.clip(coded, 0.0, 1.0) * 255.0).astype(np.uint8)
    return pixels


def shot(page: SwatchPage, *, pixels_per_mm: float = 7.0, **how: float) -> Shot:
    """A computed photo of a page that was filled with known colours."""
    truth = ink_colours(page)
    scene = filled(page, drawn_page(page, pixels_per_mm=pixels_per_mm), truth, pixels_per_mm=pixels_per_mm)
    return Shot(photographed(scene, **how), truth)  # type: ignore[arg-type]


def errors_delta_e00(read: SheetReading, truth: Mapping[str, Linear]) -> dict[PatchPlace, float]:
    """How far each patch was read from the truth."""
    return {
        each.patch: float(delta_e00(each.lab, linear_to_lab(truth[each.patch.code]))) for each in read.patches
    }


@dataclass(frozen=True, slots=True, eq=False)
class InkErrors:
    """CIEDE2000 of predictions, what was told beforehand, and whether sRGB holds one pass of the ink."""

    delta_e00: NDArray[np.float64]
    told: NDArray[np.float64]
    in_srgb: NDArray[np.bool_]


def ink_errors(origin: Origin, *, inks: int = 12, seed: int = 21) -> InkErrors:
    """Synthetic inks found from a sheet of their swatches: how far one to three passes on paper are off.

    Films vary by 3 %, later
    passes lay down TRANSFER, an instrument has a noise of 0.003; "scanned" knows the colours only, cut off
    where sRGB ends: later passes beyond it are left out.
    """
    k, s = synthetic_inks(inks, seed=seed)
    names = [f"ink {index}" for index in range(inks)]
    pages = lay_out_sheet(plan_sheet(names, size_mm=(297.0, 420.0)))
    rng = np.random.default_rng(seed + 1)
    spectra, cut_off = {}, set()
    for patch in (patch for page in pages for patch in page.patches):
        seen = np.full(BAND_COUNT, WHITE if patch.ground == "paper" else DARK)
        if patch.row is not None:
            film = film_thickness(patch.passes, transfer=TRANSFER) * np.exp(rng.normal(0.0, FILM_VARIATION))
            seen = layer_reflectance(k[patch.row], s[patch.row], film, seen)
        spectra[patch.code] = np.clip(seen + rng.normal(0.0, MEASURED_NOISE, BAND_COUNT), 0.0, 1.0)
        if origin == "scanned":
            colour = reflectance_to_linear(spectra[patch.code])
            strong = bool((colour < 0.0).any()) and patch.passes > 1
            if (colour < 0.0).any():
                cut_off.add(patch.code)
            spectra[patch.code] = spectrum_of_colour(np.clip(colour, 0.0, 1.0).tolist())
            if strong:
                del spectra[patch.code]
    errors, told, held = [], [], []
    for ink in find_inks(pages, spectra, origin=origin, cut_off=cut_off).inks:
        number = names.index(ink.name)
        for swatch in ink.swatches[:3]:
            film = film_thickness(swatch.passes, transfer=TRANSFER)
            true = reflectance_to_lab(layer_reflectance(k[number], s[number], film, WHITE))
            errors.append(float(delta_e00(true, swatch.lab)))
            told.append(ink.uncertainty_delta_e00)
            one_pass = layer_reflectance(k[number], s[number], 1.0, WHITE)
            held.append(bool((reflectance_to_linear(one_pass) >= 0.0).all()))
    return InkErrors(np.array(errors), np.array(told), np.array(held))


def sheet_section() -> Section:
    """All figures."""
    (page,) = sample_pages()
    paper = (float(PAPER[0]), float(PAPER[1]), float(PAPER[2]))
    rows = []
    for what, how in (
        ("a photo turned 7 degrees, in perspective, light falling by 30 %", {}),
        ("the same upside down", {"turn_deg": 187.0}),
        ("the same through a lens of 30 degrees to the corner", {"lens_deg": 30.0}),
        ("a flat scan", {"turn_deg": 0.4, "tilt": 0.0, "light_fall": 0.02, "noise": 0.004}),
    ):
        taken = shot(page, **how)
        began = time.process_time()
        read = read_sheet(taken.pixels, [page], paper_linear=paper)
        took = time.process_time() - began
        errors = np.array(list(errors_delta_e00(read, taken.truth).values()))
        rows += [
            Row(
                f"{what}: patches found",
                f"{len(errors)} of {len(page.patches)}",
                "all",
                len(errors) == len(page.patches),
            ),
            at_most(f"{what}: worst patch", float(errors.max()), most=1.0, unit="dE00"),
            Row(f"{what}: middle patch", f"{float(np.median(errors)):.2f} dE00"),
            Row(f"{what}: time", f"{took:.2f} s", beside=f"{taken.pixels.size / 3e6:.0f} Mpx"),
        ]
    origins: tuple[Origin, ...] = ("measured", "scanned")
    for origin in origins:
        missed = ink_errors(origin)
        what = f"inks from {origin} swatches, one to three passes"
        for name, errors in (
            ("", missed.delta_e00),
            (", those that sRGB holds", missed.delta_e00[missed.in_srgb]),
        ):
            rows += [
                Row(f"{what}{name}: median", f"{float(np.median(errors)):.2f} dE00"),
                Row(f"{what}{name}: 95 %", f"{float(np.quantile(errors, 0.95)):.2f} dE00"),
            ]
        within = 100.0 * float(np.mean(missed.delta_e00 <= missed.told))
        rows.append(
            Row(f"{what}: within what is told", f"{within:.0f} %", beside=f"{len(missed.told)} predictions")
        )
    strong = [ink_errors("scanned", seed=seed) for seed in STRONG_SEEDS]
    off = np.concatenate([each.delta_e00[~each.in_srgb] for each in strong])
    told = np.concatenate([each.told[~each.in_srgb] for each in strong])
    what = "inks from scanned swatches that sRGB does not hold, one to three passes"
    rows += [
        Row(f"{what}: median", f"{float(np.median(off)):.2f} dE00", beside=f"{len(off)} predictions"),
        Row(f"{what}: 95 %", f"{float(np.quantile(off, 0.95)):.2f} dE00"),
        Row(f"{what}: told, median", f"± {float(np.median(told)):.2f} dE00"),
        Row(f"{what}: within what is told", f"{100.0 * float(np.mean(off <= told)):.0f} %"),
    ]
    lead = (
        "Our own sheet, drawn from its PDF, filled with known colours and photographed by computation; the "
        "colour of the paper is given, as after a measurement.",
    )
    return Section("sheets", "Calibration sheets", lead, tuple(rows))


def main() -> None:
    section = sheet_section()
    print(f"## {section.title}\n\n{section.lead[0]}\n\n{rows_table(section.rows)}\n\n{verdict([section])}")


if __name__ == "__main__":
    main()

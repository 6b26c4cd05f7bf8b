"""A scanner's correction from a chart: exact where it can be, honest where it cannot; charts in a grid."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from blockwright.colour import delta_e00, linear_to_lab, linear_to_srgb
from blockwright.colour.spectra import reflectance_to_linear
from blockwright.inks.chart import (
    ScannedChart,
    correction_by_ids,
    correction_by_order,
    read_scanned_chart,
)
from blockwright.inks.scanner import fit_scanner, read_grid
from blockwright.inks.spectral_tables import Sample, SampleTable
from blockwright.model.errors import InkError

Values = NDArray[np.float64]


def chart(count: int = 48, seed: int = 2) -> tuple[Values, Values]:
    """True and scanned linear light of smooth spectra; the scanner's three curves are not the eye's."""
    rng = np.random.default_rng(seed)
    bands = np.arange(36)
    middles, widths = rng.uniform(-4, 40, (count, 3, 1)), rng.uniform(3, 10, (count, 3, 1))
    depth = rng.uniform(0.0, 1.5, (count, 3, 1)) * np.exp(-(((bands - middles) / widths) ** 2))
    spectra = 0.85 * np.exp(-depth.sum(axis=1))
    curves = np.exp(-(((bands[:, None] - np.array([23.0, 15.0, 7.0])) / np.array([4.0, 4.5, 3.5])) ** 2))
    scanned = spectra @ (curves / curves.sum(axis=0))
    return reflectance_to_linear(spectra), scanned


def table(labs: Values, names: list[str]) -> SampleTable:
    samples = [
        Sample(name, "", None, (float(lab[0]), float(lab[1]), float(lab[2])))
        for name, lab in zip(names, labs, strict=True)
    ]
    return SampleTable("chart.txt", tuple(samples))


def test_a_matrix_is_found_exactly_whatever_the_exposure() -> None:
    rng = np.random.default_rng(1)
    true = rng.uniform(0.02, 0.9, (30, 3))
    mixing = np.array([[0.8, 0.15, 0.0], [0.1, 0.8, 0.1], [0.0, 0.2, 0.7]])
    for exposure in (0.4, 1.0, 1.6):
        found = fit_scanner(true @ mixing * exposure, linear_to_lab(true))
        assert found.terms == "matrix"
        assert found.max_delta_e00 < 0.01
        np.testing.assert_allclose(found(true @ mixing * exposure), true, atol=1e-4)


def test_left_out_patches_are_as_wrong_as_patches_that_were_never_seen() -> None:
    true, scanned = chart(80)
    found = fit_scanner(scanned[:48], linear_to_lab(true[:48]))
    unseen = delta_e00(linear_to_lab(found(scanned[48:])), linear_to_lab(true[48:]))
    before = delta_e00(linear_to_lab(scanned[48:]), linear_to_lab(true[48:]))
    assert np.median(unseen) < 0.4 * np.median(before)
    assert found.median_delta_e00 / 1.6 < np.median(unseen) < 1.6 * found.median_delta_e00
    assert found.median_delta_e00 <= found.p95_delta_e00 <= found.max_delta_e00
    assert found.before_delta_e00 > 2.0 * found.median_delta_e00


def test_leaving_one_out_in_closed_form_is_leaving_one_out() -> None:
    """The residuals told are those of really fitting again without each patch."""
    true, scanned = chart(11)
    found = fit_scanner(scanned, linear_to_lab(true))
    weight = np.maximum(true.mean(axis=1), 0.03) ** (-2.0 / 3.0)
    assert found.terms == "matrix"
    terms = scanned
    heavy = terms * weight[:, None]
    strength = np.diag(found.ridge * len(terms) * (heavy**2).mean(axis=0))
    apart = []
    for k in range(len(terms)):
        rest = np.arange(len(terms)) != k
        normal = heavy[rest].T @ heavy[rest] + strength
        matrix = np.linalg.solve(normal, heavy[rest].T @ (true * weight[:, None])[rest])
        apart.append(float(delta_e00(linear_to_lab(terms[k] @ matrix), linear_to_lab(true[k]))))
    assert found.median_delta_e00 == pytest.approx(np.median(apart), rel=1e-6)
    assert found.max_delta_e00 == pytest.approx(max(apart), rel=1e-6)


def test_few_patches_get_few_terms() -> None:
    true, scanned = chart(9)
    assert fit_scanner(scanned, linear_to_lab(true)).terms == "matrix"
    with pytest.raises(InkError, match="has 7 patches; 8 or more are needed"):
        fit_scanner(scanned[:7], linear_to_lab(true[:7]))


def test_a_chart_in_another_order_is_refused() -> None:
    true, scanned = chart()
    with pytest.raises(InkError, match="do not go together; are the patches in the same order"):
        fit_scanner(scanned[::-1], linear_to_lab(true))
    with pytest.raises(InkError, match="has 48 measured patches, but 47 were scanned"):
        fit_scanner(scanned[1:], linear_to_lab(true))


# --- charts ------------------------------------------------------------------------------------------------


def test_charts_are_matched_by_id_or_by_order() -> None:
    true, scanned = chart(24)
    names = [f"{row}{column}" for row in "ABCD" for column in range(1, 7)]
    measured = table(linear_to_lab(true), names)
    ordered = correction_by_order(measured, scanned)
    turned = ScannedChart(tuple(name.lower() for name in names[::-1]), scanned[::-1])
    assert correction_by_ids(measured, turned).median_delta_e00 == pytest.approx(ordered.median_delta_e00)
    with pytest.raises(InkError, match=r"'e1' has no measured values in chart\.txt"):
        correction_by_ids(measured, ScannedChart(("e1",), scanned[:1]))
    with pytest.raises(
        InkError, match=r"chart\.txt has 24 samples, but the grid of the chart has 20 patches"
    ):
        correction_by_order(measured, scanned[:20])


@pytest.mark.parametrize("full", [1.0, 255.0, 65535.0])
def test_scanned_values_to_any_full_scale(tmp_path, full: float) -> None:  # type: ignore[no-untyped-def]
    _, scanned = chart(10)
    coded = linear_to_srgb(scanned) * full
    path = tmp_path / "scan.csv"
    rows = [f"p{k}," + ",".join(f"{value:.6f}" for value in row) for k, row in enumerate(coded)]
    path.write_text("\n".join(["SAMPLE_ID,RGB_R,RGB_G,RGB_B", *rows]), encoding="utf-8")
    found = read_scanned_chart(path)
    assert found.ids[3] == "p3"
    np.testing.assert_allclose(found.linear, scanned, atol=1e-6)


def test_impossible_scanned_values(tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "scan.csv"
    path.write_text("SAMPLE_ID,RGB_R,RGB_G,RGB_B\na,-1,3,4\n", encoding="utf-8")
    with pytest.raises(InkError, match="RGB values lie between"):
        read_scanned_chart(path)


def test_a_grid_in_perspective_is_read() -> None:
    colours = np.random.default_rng(4).integers(20, 235, (4, 6, 3), dtype=np.uint8)
    flat = np.repeat(np.repeat(colours, 40, axis=0), 40, axis=1)
    corners = [(60.0, 40.0), (420.0, 70.0), (400.0, 330.0), (45.0, 300.0)]
    source = np.array([(0, 0), (240, 0), (240, 160), (0, 160)], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(source, np.array(corners, dtype=np.float32))
    picture = np.asarray(cv2.warpPerspective(flat, matrix, (480, 360)), np.uint8)
    linear = read_grid(picture, corners, columns=6, rows=4)
    np.testing.assert_allclose(linear_to_srgb(linear) * 255.0, colours.reshape(-1, 3), atol=1.0)


@pytest.mark.parametrize(
    ("corners", "grid", "message"),
    [
        ([(0.0, 0.0)] * 3, (6, 4), "four corners, but 3"),
        (
            [(0.0, 0.0), (900.0, 0.0), (90.0, 90.0), (0.0, 90.0)],
            (6, 4),
            "lies outside the picture of 100 x 100",
        ),
        ([(0.0, 0.0), (0.0, 90.0), (90.0, 90.0), (90.0, 0.0)], (2, 2), "are given as upper left"),
        ([(0.0, 0.0), (90.0, 90.0), (90.0, 0.0), (0.0, 90.0)], (2, 2), "are given as upper left"),
        ([(0.0, 0.0), (90.0, 0.0), (90.0, 90.0), (0.0, 90.0)], (20, 20), "smaller than 8 pixels"),
        ([(0.0, 0.0), (90.0, 0.0), (90.0, 90.0), (0.0, 90.0)], (0, 4), "1 to 100 columns and rows"),
    ],
)
def test_grids_that_cannot_be_read(
    corners: list[tuple[float, float]], grid: tuple[int, int], message: str
) -> None:
    with pytest.raises(InkError, match=message):
        read_grid(np.zeros((100, 100, 3), np.uint8), corners, columns=grid[0], rows=grid[1])

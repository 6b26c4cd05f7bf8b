"""The paper's measured colour and a reference chart on the page of one's own paints."""

from collections.abc import Iterator
from html import unescape
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from asked_app import AskedApp
from bench.sheets import drawn_page, filled, ink_colours, photographed
from PIL import Image

from blockwright import paints, studio
from blockwright.colour import linear_to_lab, linear_to_srgb
from blockwright.inks import lay_out_sheet, plan_sheet
from blockwright.inks.cgats import compose_cgats
from blockwright.paints import KeptSheet
from blockwright.sheet_facts import FACTS_NAME, SheetFacts, facts_of
from blockwright.web import words

AS_PART = {"HX-Request": "true"}
RED_SEEN = 0.85
"""This scanner sees so much of the red light."""


@pytest.fixture(scope="module")
def picture() -> bytes:
    """A computed scan of a sheet of one paint, as a scanner sees it that is dark in red."""
    (page,) = lay_out_sheet(plan_sheet(["rose"], size_mm=(210.0, 297.0), passes=1))
    scene = filled(page, drawn_page(page, pixels_per_mm=4.0), ink_colours(page), pixels_per_mm=4.0)
    return _png(photographed(scene * [RED_SEEN, 1.0, 1.0], turn_deg=0.3, tilt=0.0, light_fall=0.0))


@pytest.fixture(scope="module")
def chart() -> tuple[bytes, bytes]:
    """The measured values of a chart of 6 by 4 patches, and its scan by the same scanner."""
    true = np.random.default_rng(7).uniform(0.05, 0.85, (24, 3))
    coded = np.rint(linear_to_srgb(true * [RED_SEEN, 1.0, 1.0]) * 255.0)
    grid = np.repeat(np.repeat(coded.reshape(4, 6, 3), 30, axis=0), 30, axis=1)
    lab = [[f"P{k}", *(f"{v:.4f}" for v in row)] for k, row in enumerate(linear_to_lab(true))]
    text = compose_cgats(["SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B"], lab, keywords=[("ILLUMINANT", "D65")])
    return text.encode(), _png(grid.astype(np.uint8))


def _png(pixels: np.ndarray) -> bytes:
    out = BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[AskedApp]:
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path / "studio"))
    asked = AskedApp(tmp_path / "home")
    yield asked
    asked.close()


@pytest.fixture
def sheet(app: AskedApp) -> KeptSheet:
    return paints.draw_kept(["rose"], passes=1)


@pytest.fixture
def read_sheet(app: AskedApp, sheet: KeptSheet, picture: bytes) -> KeptSheet:
    """The sheet with its scan."""
    files = {"scan": ("scan.png", picture, "image/png")}
    sent = app.browser.post("/shelf/paints/scan", data=_of(sheet), files=files, headers=AS_PART)
    assert "HX-Redirect" in sent.headers
    return paints.kept_sheet(sheet.number)


def _of(sheet: KeptSheet) -> dict[str, str]:
    return {"sheet": str(sheet.number)}


def _page(app: AskedApp, way: str) -> str:
    return unescape(app.browser.get(way).text)


def _send_chart(app: AskedApp, sheet: KeptSheet, chart: tuple[bytes, bytes], **fields: str) -> Any:
    files = {
        "measured": ("../my chart.txt", chart[0], "text/plain"),
        "picture": ("my chart.png", chart[1], "image/png"),
    }
    data = _of(sheet) | {"grid": "6x4", **fields}
    return app.browser.post("/shelf/paints/chart", data=data, files=files, headers=AS_PART)


def test_a_chart_corrects_the_reading_and_its_residual_is_shown(
    app: AskedApp, read_sheet: KeptSheet, chart: tuple[bytes, bytes]
) -> None:
    way = f"/shelf/paints?sheet={read_sheet.number}"
    before = _page(app, way)
    assert words.own_no_chart in before
    plain = paints.read_kept(read_sheet)
    sent = _send_chart(app, read_sheet, chart)
    assert sent.headers["HX-Redirect"] == way
    text = _page(app, way)
    assert "corrected by 24 patches of the chart" in text
    assert "my chart.txt with its scan my chart.png, 6 × 4 patches" in text
    assert words.own_no_chart not in text
    found = paints.read_kept(read_sheet)
    assert plain is not None
    assert found is not None
    assert found.scanner is not None
    assert found.scanner.median_delta_e00 < 0.5 < found.scanner.before_delta_e00
    red, dark = (each.found.inks[0].swatches[0].lab[1] for each in (found, plain))
    assert red > dark + 1.0
    # The corners may be told, and the chart is taken out again.
    again = _send_chart(app, read_sheet, chart, corners="0,0 180,0 180,120 0,120")
    assert "HX-Redirect" in again.headers
    assert len(facts_of(read_sheet.folder).chart.corners_px) == 4  # type: ignore[union-attr]
    out = app.browser.post("/shelf/paints/no-chart", data=_of(read_sheet), headers=AS_PART)
    assert out.status_code == 204
    assert words.own_no_chart in _page(app, way)
    assert list(read_sheet.folder.glob("chart-*")) == []


def test_the_papers_measured_colour_is_kept_and_read_with(app: AskedApp, read_sheet: KeptSheet) -> None:
    way = f"/shelf/paints?sheet={read_sheet.number}"
    assert words.own_paper_as_scanned in _page(app, way)
    told = app.browser.post(
        "/shelf/paints/paper", data=_of(read_sheet) | {"colour": "lab(90, 0, 8)"}, headers=AS_PART
    )
    assert told.status_code == 204
    text = _page(app, way)
    assert 'value="lab(90, 0, 8)"' in text
    assert words.own_paper_as_scanned not in text
    read = paints.read_kept(read_sheet)
    assert read is not None
    bare = [each.lab for each in read.pages[0].reading.patches if each.patch.kind == "paper"]
    assert np.abs(np.array(bare) - [90.0, 0.0, 8.0]).max() < 1.0
    app.browser.post("/shelf/paints/paper", data=_of(read_sheet) | {"colour": " "}, headers=AS_PART)
    assert facts_of(read_sheet.folder) == SheetFacts()
    assert words.own_paper_as_scanned in _page(app, way)


def test_a_paint_that_is_kept_can_be_kept_anew_when_it_is_read_otherwise(
    app: AskedApp, read_sheet: KeptSheet, chart: tuple[bytes, bytes]
) -> None:
    way = f"/shelf/paints?sheet={read_sheet.number}"
    keep = _of(read_sheet) | {"name": "rose"}
    assert app.browser.post("/shelf/paints/keep", data=keep, headers=AS_PART).status_code == 204
    assert 'id="keep-1"' not in _page(app, way)
    assert "HX-Redirect" in _send_chart(app, read_sheet, chart).headers
    assert 'id="keep-1"' in _page(app, way)
    assert app.browser.post("/shelf/paints/keep", data=keep, headers=AS_PART).status_code == 204
    assert 'id="keep-1"' not in _page(app, way)
    kept = studio.show_pigment(studio.open_studio(), "rose").pigment
    assert kept.source.endswith("scanner corrected by my chart.txt")


def test_a_pot_that_is_known_by_its_swatch_can_be_kept_anew_when_it_is_read_otherwise(
    app: AskedApp, read_sheet: KeptSheet, chart: tuple[bytes, bytes]
) -> None:
    way = f"/shelf/paints?sheet={read_sheet.number}"
    keep = _of(read_sheet) | {"name": "rose", "as": "new ink"}
    assert app.browser.post("/shelf/paints/keep", data=keep, headers=AS_PART).status_code == 204
    assert 'id="keep-1"' not in _page(app, way)
    (as_scanned,) = studio.list_inks(studio.open_studio())
    assert "HX-Redirect" in _send_chart(app, read_sheet, chart).headers
    assert 'id="keep-1"' in _page(app, way)
    again = keep | {"as": str(as_scanned.number)}
    assert app.browser.post("/shelf/paints/keep", data=again, headers=AS_PART).status_code == 204
    assert 'id="keep-1"' not in _page(app, way)
    (corrected,) = studio.list_inks(studio.open_studio())
    assert corrected.number == as_scanned.number
    assert corrected.optics != as_scanned.optics


def test_no_sentence_of_the_page_names_a_commands_option(app: AskedApp, read_sheet: KeptSheet) -> None:
    text = app.browser.get(f"/shelf/paints?sheet={read_sheet.number}").text
    assert " --" not in text.replace("<!--", "")


@pytest.mark.parametrize("colour", ["white", "lab(120, 0, 0)", "lab(100, 90, 0)", "#fff"])
def test_a_papers_colour_that_is_none_is_refused(app: AskedApp, sheet: KeptSheet, colour: str) -> None:
    said = app.browser.post("/shelf/paints/paper", data=_of(sheet) | {"colour": colour}, headers=AS_PART)
    assert said.status_code == 422
    assert "paper&#39;s colour" in said.text
    assert facts_of(sheet.folder) == SheetFacts()


def _bomb() -> bytes:
    """A picture of some kilobytes that would be 3.6 GB as pixels."""
    import struct
    import zlib

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", 60_000, 20_000, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 1_000_000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("change", "fields", "says"),
    [
        (
            {},
            {"grid": "many"},
            "chart&#39;s patches is &#39;many&#39;; it must be columns x rows, such as 6x4",
        ),
        ({}, {"grid": "5x4"}, "has 24 samples, but the grid of the chart has 20 patches"),
        ({}, {"corners": "1,1"}, "The chart&#39;s corners is"),
        ({}, {"corners": "0,0 900,0 900,600 0,600"}, "lies outside the picture of 180 x 120 pixels"),
        ({"measured": b"nothing"}, {}, "my chart.txt"),
        ({"measured": b"\0\1\2"}, {}, "my chart.txt is no text"),
        ({"picture": b"nothing"}, {}, "my chart.png"),
        ({"picture": _bomb()}, {}, "my chart.png"),
    ],
)
def test_a_chart_that_cannot_be_taken_is_refused_and_the_one_before_stays(
    app: AskedApp,
    sheet: KeptSheet,
    chart: tuple[bytes, bytes],
    change: dict[str, bytes],
    fields: dict[str, str],
    says: str,
) -> None:
    assert "HX-Redirect" in _send_chart(app, sheet, chart).headers
    before = facts_of(sheet.folder)
    given = (change.get("measured", chart[0]), change.get("picture", chart[1]))
    said = _send_chart(app, sheet, given, **fields)
    assert said.status_code == 422
    assert says in said.text
    assert said.text.count("said-back") == 1
    assert facts_of(sheet.folder) == before
    assert len(list(sheet.folder.glob("chart-*"))) == 2
    assert list((app.desk.home / "uploads").glob("*")) == []


def test_a_chart_without_one_of_its_files_is_refused(
    app: AskedApp, sheet: KeptSheet, chart: tuple[bytes, bytes]
) -> None:
    data = _of(sheet) | {"grid": "6x4"}
    files = {"measured": ("chart.txt", chart[0], "text/plain")}
    said = app.browser.post("/shelf/paints/chart", data=data, files=files, headers=AS_PART)
    assert (said.status_code, "scan is missing" in said.text) == (422, True)
    said = app.browser.post("/shelf/paints/chart", data=data, headers=AS_PART)
    assert (said.status_code, "measured values are missing" in said.text) == (422, True)


def test_damaged_facts_are_said_and_can_be_told_anew(app: AskedApp, read_sheet: KeptSheet) -> None:
    (read_sheet.folder / FACTS_NAME).write_text("{", encoding="utf-8")
    way = f"/shelf/paints?sheet={read_sheet.number}"
    assert "cannot be read any more; tell it anew" in _page(app, way)
    data = _of(read_sheet) | {"colour": "#f1e8d4"}
    assert app.browser.post("/shelf/paints/paper", data=data, headers=AS_PART).status_code == 204
    assert "cannot be read any more" not in _page(app, way)

"""Drawings: drawn at the right scale and place, and nothing outside the file is ever opened."""

import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from reading_samples import DRAWN, PAPER, PAPER_RGB, by_pillow, embedded, painted, svg, with_alpha

from blockwright.design import read_svg
from blockwright.design.read_source import Source
from blockwright.design.reading import Picture, read_picture
from blockwright.model.errors import PictureError

SMALL = 100_000
"""Pixels that are enough where the scale does not matter."""


def read(tmp_path: Path, data: bytes, *, max_pixels: int = SMALL, **options: Any) -> Picture:
    path = tmp_path / "drawing.svg"
    path.write_bytes(data)
    return read_picture(path, paper_hex=PAPER, max_pixels=max_pixels, **options)


def refused(tmp_path: Path, data: bytes, **options: Any) -> str:
    with pytest.raises(PictureError) as caught:
        read(tmp_path, data, **options)
    assert str(caught.value).startswith("The picture drawing.svg ")
    return str(caught.value)


def test_three_hundred_to_the_inch_at_its_own_size(tmp_path: Path) -> None:
    data = svg(DRAWN, 'width="7in" height="4.5in" viewBox="0 0 70 45"')
    picture = read(tmp_path, data, max_pixels=10**7)
    assert picture.pixels.shape == (1350, 2100, 3)
    assert picture.pixels_per_mm == pytest.approx(300 / 25.4, rel=1e-4)


def test_three_hundred_to_the_inch_at_the_width_asked_for(tmp_path: Path) -> None:
    picture = read(tmp_path, svg(DRAWN), width_mm=7 * 25.4, max_pixels=10**7)
    assert picture.pixels.shape == (1400, 2100, 3)
    assert picture.pixels_per_mm == pytest.approx(2100 / 60)


def test_a_small_drawing_is_drawn_larger(tmp_path: Path) -> None:
    picture = read(tmp_path, svg(DRAWN), width_mm=30, max_pixels=10**7)
    assert picture.pixels.shape == (1333, 2000, 3)


def test_a_drawing_without_a_size_in_mm(tmp_path: Path) -> None:
    source = Source(tmp_path / "drawing.svg", 10**8)
    size = read_svg.drawing_size(source, {"viewBox": "0 0 60 40"})
    assert size == read_svg.DrawingSize(60, 40, (0, 0, 60, 40), None)
    picture = read(tmp_path, svg(DRAWN, 'viewBox="0 0 60 40"'))
    assert picture.pixels_per_mm is None


@pytest.mark.parametrize(
    ("attributes", "width_mm"),
    [
        ('width="10cm" height="5cm" viewBox="0 0 20 10"', 100.0),
        ('width="10in" height="5in"', 254.0),
        ('width="360pt" height="180pt" viewBox="0 0 2 1"', 127.0),
        ('width="30pc" height="15pc" viewBox="0 0 2 1"', 127.0),
        ('width="400Q" viewBox="0 0 20 10"', 100.0),
        ('height="5cm" viewBox="0 0 20 10"', 100.0),
        ('width=" 1e2mm " height="50.0mm"', 100.0),
        ('width="800" height="400"', None),
        ('width="800px" height="400px"', None),
        ('width="100%" height="100%" viewBox="0 0 20 10"', None),
        ('viewBox="0,0 , 20 10"', None),
    ],
)
def test_units(tmp_path: Path, attributes: str, width_mm: float | None) -> None:
    """SVG 1.1, 7.10; 1 inch = 25.4 mm = 72 points = 6 picas, 4 Q = 1 mm (CSS Values and Units)."""
    picture = read(tmp_path, svg('<rect width="1" height="0.5" fill="red"/>', attributes))
    height, width = picture.pixels.shape[:2]
    assert width == pytest.approx(2 * height, abs=1)
    if width_mm is None:
        assert picture.pixels_per_mm is None
    else:
        assert picture.pixels_per_mm == pytest.approx(width / width_mm)


def test_shapes_lie_where_the_drawing_says(tmp_path: Path) -> None:
    """Areas and the circle's centre, against shapely."""
    picture = read(tmp_path, svg(DRAWN), max_pixels=10**6)
    scale = picture.pixels_per_mm
    assert scale is not None
    blue = (picture.pixels == (0x1E, 0x3C, 0x78)).all(axis=2)
    rows, columns = np.nonzero(blue)
    circle = shapely.Point(40, 20).buffer(8, quad_segs=64)
    assert blue.sum() / scale**2 == pytest.approx(circle.area, rel=0.01)
    assert (columns.mean() + 0.5) / scale == pytest.approx(circle.centroid.x, abs=0.01)
    down = picture.pixels.shape[0] / 40  # the height is rounded to whole pixels, too
    assert (rows.mean() + 0.5) / down == pytest.approx(circle.centroid.y, abs=0.01)
    assert (picture.pixels[:, -1] == PAPER_RGB).all()
    red = (picture.pixels == (0xC8, 0x3C, 0x28)).all(axis=2)
    assert red.sum() / scale**2 == pytest.approx(30 * 40, rel=0.002)


@pytest.mark.parametrize("attributes", ['width="360mm" height="239.37mm"', 'viewBox="3 4 333 77"'])
def test_no_edge_pixel_is_half_covered(tmp_path: Path, attributes: str) -> None:
    """Whatever the proportions: a ground that fills the drawing fills every pixel."""
    ground = '<rect x="-9" y="-9" width="9999" height="9999" fill="#c83c28"/><circle cx="50" cy="50" r="9"/>'
    picture = read(tmp_path, svg(ground, attributes))
    for edge in (picture.pixels[0], picture.pixels[-1], picture.pixels[:, 0], picture.pixels[:, -1]):
        assert (edge == (0xC8, 0x3C, 0x28)).all()
    assert picture.notes == ()


def test_a_view_box_of_other_proportions_is_placed_as_the_drawing_says(tmp_path: Path) -> None:
    body = '<rect width="10" height="10" fill="#c83c28"/>'
    middle = read(tmp_path, svg(body, 'width="40mm" height="20mm" viewBox="0 0 10 10"')).pixels
    width = middle.shape[1]
    assert (middle[100, width // 2] != PAPER_RGB).any()
    assert (middle[100, 10] == PAPER_RGB).all()
    attributes = 'width="40mm" height="20mm" viewBox="0 0 10 10" preserveAspectRatio="xMinYMid"'
    left = read(tmp_path, svg(body, attributes)).pixels
    assert (left[100, 10] != PAPER_RGB).any()
    assert (left[100, width - 10] == PAPER_RGB).all()


def test_never_more_pixels_than_allowed(tmp_path: Path) -> None:
    picture = read(tmp_path, svg(DRAWN), width_mm=3000, max_pixels=200_000)
    height, width = picture.pixels.shape[:2]
    assert 190_000 < width * height <= 200_000
    assert "too small" in refused(tmp_path, svg(DRAWN, 'viewBox="0 0 100000 1"'))


@pytest.mark.parametrize(
    "before",
    [
        b'<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n<!-- drawn by hand -->\n',
        b'<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        b'"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">',
        b"\xef\xbb\xbf  ",
        b"\n\n",
    ],
)
def test_beginnings(tmp_path: Path, before: bytes) -> None:
    if before.startswith(b"\xef"):
        before = before.strip()
    plain = read(tmp_path, svg(DRAWN))
    np.testing.assert_array_equal(read(tmp_path, before + svg(DRAWN)).pixels, plain.pixels)


@pytest.mark.parametrize("encoding", ["utf-16", "iso-8859-1"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    text = f'<?xml version="1.0" encoding="{encoding}"?>' + svg(f"<title>Mühle</title>{DRAWN}").decode()
    plain = read(tmp_path, svg(DRAWN))
    np.testing.assert_array_equal(read(tmp_path, text.encode(encoding)).pixels, plain.pixels)


def test_letters_are_left_out_and_said_so(tmp_path: Path) -> None:
    picture = read(tmp_path, svg(DRAWN + '<text x="5" y="20">low water</text>'))
    assert next((note.code, note.severity) for note in picture.notes) == ("letters-left-out", "warn")
    np.testing.assert_array_equal(picture.pixels, read(tmp_path, svg(DRAWN)).pixels)


def test_a_picture_inside_is_drawn(tmp_path: Path) -> None:
    plain = read(tmp_path, svg(DRAWN)).pixels
    pictured = read(tmp_path, svg(DRAWN + embedded(by_pillow(painted(), "PNG")))).pixels
    assert (plain != pictured).any()
    assert read(tmp_path, svg(DRAWN + embedded(by_pillow(painted(), "JPEG"), "jpeg"))).pixels.size
    assert read(tmp_path, svg(DRAWN + embedded(by_pillow(with_alpha(painted()), "WEBP"), "webp"))).pixels.size


OUTSIDE = [
    '<image width="9" height="9" href="{file}"/>',
    '<image width="9" height="9" xlink:href="{file}"/>',
    '<image width="9" height="9" xlink:href="file://{file}"/>',
    '<image width="9" height="9" xlink:href="https://example.org/a.png"/>',
    '<filter id="f"><feImage xlink:href="{file}"/></filter><rect width="9" height="9" filter="url(#f)"/>',
    '<g><use xlink:href="other.svg#part"/></g>',
    '<linearGradient id="g" xlink:href="other.svg#g"/>',
    "<style>@import url(other.css); rect {{ fill: red }}</style>",
    "<style><![CDATA[@IMPORT 'other.css';]]></style>",
    '<image width="9" height="9" href="&#x2f;{file}"/>',
    '<rect width="9" height="9" fill="url(other.svg#paint)"/>',
    "<rect width='9' height='9' style='mask: url( \"other.svg#mask\" )'/>",
    "<style>rect {{ fill: URL('other.svg#paint') }}</style>",
]


@pytest.mark.parametrize("link", OUTSIDE)
def test_nothing_outside_the_file_is_opened(tmp_path: Path, link: str) -> None:
    (tmp_path / "secret.png").write_bytes(by_pillow(painted(), "PNG"))
    body = DRAWN + link.format(file=tmp_path / "secret.png")
    text = refused(tmp_path, svg(body))
    assert "outside the file; embed it" in text


def test_a_style_sheet_outside_is_refused(tmp_path: Path) -> None:
    assert "a style sheet outside" in refused(
        tmp_path, b'<?xml-stylesheet href="a.css" type="text/css"?>' + svg(DRAWN)
    )


def test_paints_of_the_file_itself_are_let_through(tmp_path: Path) -> None:
    paint = '<linearGradient id="p"><stop stop-color="#c83c28"/></linearGradient>'
    body = DRAWN.replace('fill="#c83c28"', "style=\"fill: url( '#p' )\"")
    np.testing.assert_array_equal(read(tmp_path, svg(paint + body)).pixels, read(tmp_path, svg(DRAWN)).pixels)


def test_links_that_draw_nothing_are_let_through(tmp_path: Path) -> None:
    body = f'<a xlink:href="https://example.org/">{DRAWN}</a>'
    np.testing.assert_array_equal(read(tmp_path, svg(body)).pixels, read(tmp_path, svg(DRAWN)).pixels)


@pytest.mark.parametrize(
    ("picture", "says"),
    [
        (by_pillow(painted(), "PNG")[:-30], "holds a picture that is damaged"),
        (by_pillow(painted(), "JPEG", "CMYK"), "holds a picture that is CMYK"),
        (by_pillow(painted(), "GIF"), "holds a picture that is neither"),
        (svg(DRAWN), "holds a picture that is neither"),
        (b"", "holds a picture that is neither"),
    ],
)
def test_pictures_inside_keep_the_rules(tmp_path: Path, picture: bytes, says: str) -> None:
    assert says in refused(tmp_path, svg(DRAWN + embedded(picture)))


def test_a_picture_inside_has_no_more_pixels_than_allowed(tmp_path: Path) -> None:
    large = by_pillow(np.zeros((600, 600, 3), np.uint8), "PNG")
    text = refused(tmp_path, svg(DRAWN + embedded(large)))
    assert "holds a picture that has 600 x 600 = 360,000 pixels" in text


def test_a_code_that_is_no_picture(tmp_path: Path) -> None:
    for link in ("data:image/png;base64,@@@@", "data:image/png,%89PNG", "data:"):
        assert "holds a picture that is" in refused(
            tmp_path, svg(f'{DRAWN}<image width="9" height="9" xlink:href="{link}"/>')
        )


ENTITIES = "".join(f'<!ENTITY e{i + 1} "{f"&e{i};" * 10}">' for i in range(12))


@pytest.mark.parametrize(
    "entities",
    [
        f'<!ENTITY e0 "x">{ENTITIES}',
        '<!ENTITY e SYSTEM "file:///etc/hostname">',
        '<!ENTITY % e SYSTEM "http://example.org/e.dtd"> %e;',
    ],
)
def test_entities_are_refused(tmp_path: Path, entities: str) -> None:
    data = f"<!DOCTYPE svg [{entities}]>".encode() + svg(DRAWN)
    assert "declares entities" in refused(tmp_path, data)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (svg(DRAWN)[:-9], "damaged"),
        (svg("<g>" * 300 + DRAWN + "</g>" * 300), "nested more than 250 deep"),
        (svg("<g>" * 200_000), "nested more than 250 deep"),
        (svg(DRAWN, ""), "states no size"),
        (svg(DRAWN, 'width="10mm"'), "states no size"),
        (svg(DRAWN, 'width="0" height="10"'), "zero size"),
        (svg(DRAWN, 'width="0mm" height="0mm" viewBox="0 0 9 9"'), "zero size"),
        (svg(DRAWN, 'width="1e400" height="10"'), "zero size"),
        (svg(""), "nothing is painted"),
        (svg('<rect width="60" height="40" fill="red"/>'), "only one colour"),
        (b'<svg width="9" height="9"><rect/></svg>', "no SVG drawing"),
        (b"<x:svg xmlns:x='http://example.org/'/>", "no SVG drawing"),
        (b'<?xml version="1.0" encoding="nonesuch"?>' + svg(DRAWN), "damaged"),
        (svg(DRAWN).replace(b"rect", b"re\xffct", 1), "damaged"),
    ],
)
def test_refusals(tmp_path: Path, data: bytes, says: str) -> None:
    assert says in refused(tmp_path, data)


def test_deep_groups_that_are_let_through_do_not_end_the_renderer(tmp_path: Path) -> None:
    """Groups drawn apart take the most of the stack; on the usual stack of 8 MB fewer end the program."""
    depth = 245
    body = '<g opacity="0.99">' * depth + DRAWN + "</g>" * depth
    assert read(tmp_path, svg(body), max_pixels=5_000).pixels.size


def test_a_renderer_that_crashes_is_a_sentence(tmp_path: Path) -> None:
    """The same drawing without the look beforehand: the program of its own may die, this one lives."""
    source = Source(tmp_path / "drawing.svg", 10_000)
    with pytest.raises(PictureError, match="cannot be drawn: it is too intricate"):
        read_svg._draw(source, svg("<g>" * 100_000 + "</g>" * 100_000), 20, 20)


def test_a_drawing_that_takes_too_long_is_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(read_svg, "_DRAWING_S", 0.5)
    slow = '<filter id="f"><feTurbulence baseFrequency="0.05" numOctaves="1000000"/></filter>'
    data = svg(slow + '<rect filter="url(#f)" width="50" height="40"/>')
    assert "cannot be drawn: it is too intricate" in refused(tmp_path, data)


def test_a_flood_of_copies_is_a_sentence(tmp_path: Path) -> None:
    """Ten copies of ten copies, nine times over."""
    nest = "".join(f'<g id="a{i + 1}">' + f'<use xlink:href="#a{i}"/>' * 10 + "</g>" for i in range(9))
    data = svg(f'<defs><rect id="a0" width="1" height="1"/>{nest}</defs><use xlink:href="#a9"/>')
    assert "cannot be drawn" in refused(tmp_path, data)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory is limited on Linux")
def test_a_drawing_that_takes_too_much_memory_is_a_sentence(tmp_path: Path) -> None:
    """Forty groups drawn apart, each of the whole picture of 40 Mpx: 6 GB where 3 are allowed."""
    nest = '<g opacity="0.99" style="mix-blend-mode:multiply">' * 40
    ground = '<rect width="60" height="40" fill="red"/>'
    source = Source(tmp_path / "drawing.svg", 10**9)
    with pytest.raises(PictureError, match="cannot be drawn"):
        read_svg._draw(source, svg(nest + ground + "</g>" * 40), 8000, 5000)


def test_the_child_draws_on_its_own(tmp_path: Path) -> None:
    """The program of its own, run as it is: a PNG on standard output."""
    child = Path(read_svg.__file__).with_name("read_svg_child.py")
    moved = shutil.copy(child, tmp_path / "child.py")
    drawn = subprocess.run(
        [sys.executable, "-P", moved, "60", "40"], input=svg(DRAWN), capture_output=True, check=True
    )
    assert re.match(rb"\x89PNG", drawn.stdout)
    assert drawn.stderr == b""

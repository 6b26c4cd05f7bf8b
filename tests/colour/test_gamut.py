"""OKLab and the way onto a display against coloraide, which follows the same published method."""

import numpy as np
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour import linear_to_srgb, srgb_to_linear
from blockwright.colour.gamut import NOTICEABLE, to_display
from blockwright.colour.oklab import linear_to_oklab, oklab_to_linear

wide = st.lists(st.floats(-0.5, 1.6), min_size=3, max_size=3)


@given(wide)
def test_oklab_agrees_with_coloraide_and_returns(linear: list[float]) -> None:
    ours = linear_to_oklab(linear)
    # Their matrices are the same to seven digits; near black the cube root magnifies the rest.
    np.testing.assert_allclose(ours, Color("srgb-linear", linear).convert("oklab").coords(), atol=5e-4)
    np.testing.assert_allclose(oklab_to_linear(ours), linear, atol=1e-9)


def test_published_oklab_colours() -> None:
    # CSS Color Module Level 4, sample conversions of sRGB red, lime and blue to OKLab.
    published = [[0.62796, 0.22486, 0.12585], [0.86644, -0.23389, 0.17950], [0.45201, -0.03246, -0.31153]]
    np.testing.assert_allclose(linear_to_oklab(np.eye(3)), published, atol=2e-5)
    np.testing.assert_allclose(linear_to_oklab([1.0, 1.0, 1.0]), [1.0, 0.0, 0.0], atol=1e-7)


def test_mapping_agrees_with_coloraide() -> None:
    linear = np.random.default_rng(1).uniform(-0.3, 1.4, (150, 3))
    shown = to_display(linear)
    for light, srgb in zip(linear, shown.srgb, strict=True):
        theirs = Color("srgb-linear", list(light)).convert("srgb").fit(method="oklch-chroma")
        np.testing.assert_allclose(srgb, theirs.coords(), atol=1e-4)


@given(wide)
def test_a_display_is_never_asked_for_what_it_has_not(linear: list[float]) -> None:
    shown = to_display(linear)
    assert 0.0 <= shown.srgb.min() <= shown.srgb.max() <= 1.0
    outside = min(linear) < -1e-5 or max(linear) > 1.0 + 1e-5
    inside = min(linear) >= 0.0 and max(linear) <= 1.0
    assert not (outside and not shown.mapped)
    assert not (inside and shown.mapped)
    if inside:
        np.testing.assert_allclose(shown.srgb, np.clip(linear_to_srgb(linear), 0.0, 1.0), atol=1e-12)


def test_hue_and_lightness_stay() -> None:
    linear = np.array([[0.9, -0.2, 0.4], [-0.15, 0.6, 0.2], [0.05, 0.1, 1.3]])
    before = linear_to_oklab(linear)
    # Before the last clipping nothing but chroma changed; clipping moves less than is noticed.
    after = linear_to_oklab(srgb_to_linear(to_display(linear).srgb))
    chroma = np.linalg.norm(after[:, 1:], axis=1)
    same_line = before.copy()
    same_line[:, 1:] *= (chroma / np.linalg.norm(before[:, 1:], axis=1))[:, None]
    assert np.linalg.norm(after - same_line, axis=1).max() < NOTICEABLE
    assert np.all(chroma < np.linalg.norm(before[:, 1:], axis=1))


def test_lighter_than_white_and_darker_than_black() -> None:
    shown = to_display([[1.3, 1.2, 1.4], [-0.1, -0.2, -0.1]])
    np.testing.assert_allclose(shown.srgb, [[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]])
    assert shown.mapped.all()
    assert to_display(np.full((2, 4, 3), 0.5)).mapped.shape == (2, 4)

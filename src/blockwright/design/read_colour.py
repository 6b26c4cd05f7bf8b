"""From a file's own colours to sRGB of 8 bits: colour profiles (LittleCMS), stored gamma, 16 bits."""

import io
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from blockwright.colour.srgb import linear_to_srgb
from blockwright.model.findings import Finding

Samples = NDArray[np.uint8] | NDArray[np.uint16]
"""Samples as files hold them, of 8 or 16 bits."""
ToSrgb = Callable[[NDArray[np.uint8]], NDArray[np.uint8]]
"""A colour profile made ready: (h, w, 1 or 3) samples of 8 bits to (h, w, 3) sRGB."""

_SAME_WITHIN_LEVELS = 1
"""A profile that moves no colour by more than this many levels of 255 is sRGB; rounding alone moves one."""
_LATTICE_STEPS = 9
"""Steps along each band of the colours that a profile is tried on."""
_USUAL_GAMMA = 1 / 2.2
_GAMMA_WITHIN = 0.01
"""A stored gamma this near 1/2.2 means sRGB, as ISO/IEC 15948 advises for the chunk written beside sRGB."""
_LONGEST_NAME = 60
"""Letters of a profile's name that are repeated in a sentence."""

_PROFILE_SPACES = {b"RGB ": "RGB", b"GRAY": "L"}
"""Colour spaces of a profile's header (ISO 15076-1, bytes 16 to 19) that a picture read here can have."""


def as_rgb(band: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Give grey samples (h, w, 1) three equal bands; leave colour as it is."""
    return band if band.shape[-1] == 3 else np.repeat(band, 3, axis=-1)


def profile_conversion(profile: bytes, *, grey: bool) -> tuple[ToSrgb | None, tuple[Finding, ...]]:
    """Make an ICC profile (ISO 15076-1) ready, relative colorimetric with black point compensation.

    The conversion is None when the profile is sRGB, or damaged, or meant for other pictures; in the last
    two cases a finding says so. Pillow's LittleCMS converts 8 bits a band only, so that 16-bit pictures
    are rounded to 8 before.
    """
    space = _PROFILE_SPACES.get(profile[16:20], "")
    if not space or (space == "L" and not grey):
        return None, (_unfit(),)
    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        conversion = _made_ready(own, space)
        tried = _lattice(space)
        moved = np.abs(conversion(tried).astype(np.int16) - as_rgb(tried))
        name = _profile_name(own)
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return None, (_unfit(),)
    if int(moved.max()) <= _SAME_WITHIN_LEVELS:
        return None, ()
    message = f"The colours were converted from the profile {name!r} to sRGB."
    return conversion, (Finding("colours-converted", "note", message),)


def gamma_table(gamma: float | None, largest: int) -> tuple[NDArray[np.uint8] | None, tuple[Finding, ...]]:
    """Look-up table from samples 0 to ``largest``, written with a stored gamma, to sRGB of 8 bits.

    ``gamma`` is the exponent with which light was encoded (ISO/IEC 15948, gAMA). None for none, for
    sRGB's own, and for nonsense.

    >>> table, _ = gamma_table(1.0, 255)
    >>> int(table[55]), int(table[255])
    (128, 255)
    """
    if gamma is None or not 0.1 <= gamma <= 10 or abs(gamma - _USUAL_GAMMA) <= _GAMMA_WITHIN:
        return None, ()
    light = (np.arange(largest + 1) / largest) ** (1 / gamma)
    table = np.rint(np.clip(linear_to_srgb(light), 0, 1) * 255).astype(np.uint8)
    message = f"The colours were converted from the stored gamma {gamma:.4g} to sRGB."
    return table, (Finding("colours-converted", "note", message),)


def to_eight_bits(samples: Samples) -> NDArray[np.uint8]:
    """Round 16-bit samples to the nearest of 8 bits: 65535 is 255, and 257 is one step. 8 bits stay.

    >>> to_eight_bits(np.array([0, 128, 129, 257, 65535], np.uint16)).tolist()
    [0, 0, 1, 1, 255]
    """
    if samples.dtype == np.uint8:
        return samples.astype(np.uint8, copy=False)
    # Exact for all 65,536 values: 255 v / 65535 rounded, with the division made a shift.
    return ((samples.astype(np.uint32) * 255 + 32_895) >> 16).astype(np.uint8)


def _made_ready(own: ImageCms.ImageCmsProfile, space: str) -> ToSrgb:
    flags = ImageCms.Flags.BLACKPOINTCOMPENSATION
    if space == "L":
        # Without this LittleCMS is nine levels off in the darks of linear grey; 256 levels cost nothing.
        flags |= ImageCms.Flags.NOOPTIMIZE
    transform = ImageCms.buildTransform(
        own,
        ImageCms.createProfile("sRGB"),
        space,
        "RGB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=flags,
    )
    if space == "L":
        ramp = Image.fromarray(np.arange(256, dtype=np.uint8).reshape(1, 256))
        table = np.asarray(ImageCms.applyTransform(ramp, transform))[0]
        return lambda band: table[band[..., 0]]

    def convert(band: NDArray[np.uint8]) -> NDArray[np.uint8]:
        picture = Image.fromarray(np.ascontiguousarray(as_rgb(band)))
        return np.asarray(ImageCms.applyTransform(picture, transform))

    return convert


def _unfit() -> Finding:
    message = "The colour profile is damaged or meant for other pictures: the colours were taken as sRGB."
    return Finding("profile-unfit", "note", message)


def _lattice(space: str) -> NDArray[np.uint8]:
    if space == "L":
        return np.arange(256, dtype=np.uint8).reshape(1, 256, 1)
    steps = np.rint(np.linspace(0, 255, _LATTICE_STEPS)).astype(np.uint8)
    red, green, blue = np.meshgrid(steps, steps, steps, indexing="ij")
    return np.stack([red, green, blue], axis=-1).reshape(1, -1, 3)


def _profile_name(profile: ImageCms.ImageCmsProfile) -> str:
    try:
        text = ImageCms.getProfileDescription(profile)
    except ImageCms.PyCMSError:
        return "without a name"
    printable = "".join(c for c in text if c.isprintable()).strip()
    return printable[:_LONGEST_NAME] or "without a name"

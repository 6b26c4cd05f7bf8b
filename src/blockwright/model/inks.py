"""Inks: the pigments they are mixed from, how surely each is known, recipes, and mixed inks with a pot."""

from dataclasses import dataclass
from typing import Literal

from blockwright.model.units import Lab

Bands = tuple[float, ...]
"""One number for each of the 36 bands, 380 to 730 nm by 10."""

Origin = Literal["literature", "scanned", "measured", "matched"]
"""Where an ink's optics come from: published figures, a swatch on a scan, a spectrophotometer, or only the
colour that is wanted (an ink that is taken as mixed to match)."""


@dataclass(frozen=True, slots=True)
class Optics:
    """Absorption ``k`` and scattering ``s`` of the film of one pass, and how surely they are known.

    Each pair of ``log_k_spread`` and ``log_s_spread`` is one direction of uncertainty: a change of log k and
    log s, one standard deviation long (:mod:`blockwright.colour.optics`).
    """

    k: Bands
    s: Bands
    log_k_spread: tuple[Bands, ...] = ()
    log_s_spread: tuple[Bands, ...] = ()


@dataclass(frozen=True, slots=True)
class Pigment:
    """A tube paint or a pigment dispersion, undiluted: one amount of it in a film of one pass is ``optics``.

    ``lightfastness`` is a class of ASTM D4303 ("ASTM I" to "ASTM V") or of the Blue Wool scale ("Blue Wool
    1" to "Blue Wool 8"); ``hazard`` a caution in a few words; both None when not known. ``transfer`` is what
    each pass after the first lays down as a part of the first.
    """

    name: str
    colour_index: str | None
    optics: Optics
    origin: Origin
    source: str
    lightfastness: str | None = None
    hazard: str | None = None
    density_g_per_ml: float = 1.0
    transfer: tuple[float, ...] = (1.0,)


@dataclass(frozen=True, slots=True)
class Part:
    """One pigment of a mixture; ``share`` is its part of the film by volume, above 0 to 1."""

    pigment: str
    share: float


@dataclass(frozen=True, slots=True)
class Recipe:
    """A mixture that was computed for a colour; the parts and the paste make up the whole film.

    ``predicted_lab`` and ``delta_e00`` are under D65; ``worst_light_delta_e00`` is the largest difference
    under lamp and fluorescent light; ``uncertainty_delta_e00`` is how far off the prediction may be.
    """

    parts: tuple[Part, ...]
    paste_share: float
    passes: int
    predicted_lab: Lab
    predicted_hex: str
    delta_e00: float
    worst_light_delta_e00: float
    uncertainty_delta_e00: float


@dataclass(frozen=True, slots=True)
class MixedInk:
    """An ink of the shelf, mixed and kept in a pot. ``number`` is the shelf's own, and never used again.

    ``parts`` may be empty where the recipe is lost; ``optics`` are those found from its swatch, or computed
    from the recipe's pigments. ``pot_g`` is what the pot holds now, None when it was never weighed.
    ``made_on`` is a date, YYYY-MM-DD.
    """

    number: int
    name: str
    parts: tuple[Part, ...]
    paste_share: float
    optics: Optics
    origin: Origin
    pot_g: float | None = None
    density_g_per_ml: float = 1.0
    made_on: str | None = None
    place: str = ""
    notes: str = ""
    used_in: tuple[str, ...] = ()
    retired: bool = False

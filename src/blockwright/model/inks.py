"""Inks: the pigments they are mixed from, how surely each is known, recipes, and mixed inks with a pot."""

from dataclasses import dataclass
from typing import Literal

from blockwright.model.findings import Finding
from blockwright.model.units import Lab

PASTE = "rice paste"
"""What makes up the rest of a film."""

GLYCERIN = "glycerin"
"""What slows the drying of a mixed ink."""

MOST_ROUNDING_DELTA_E00 = 0.5
"""Rounding to the scale that moves a colour farther (CIEDE2000) is pointed out: half of what is seen [CP]."""

Bands = tuple[float, ...]
"""One number for each of the 36 bands, 380 to 730 nm by 10."""

Origin = Literal["literature", "scanned", "measured", "matched"]
"""Where an ink's optics come from: published figures, a swatch on a scan, a spectrophotometer, or only the
colour that is wanted (an ink that is taken as mixed to match)."""

KnownBy = Literal["recipe", "own swatch"]
"""What makes a mixed ink known: its recipe, by which its optics are reckoned from those of its pigments, or a
swatch that was printed with the very ink."""


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
    from the recipe's pigments, as ``known_by`` tells; ``transfer`` as of a pigment. ``pot_g`` is what the pot
    holds now, None when it was never weighed. ``made_on`` is a date, YYYY-MM-DD.
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
    transfer: tuple[float, ...] = (1.0,)
    known_by: KnownBy = "recipe"


@dataclass(frozen=True, slots=True)
class Swatches:
    """How an ink looks after 1, 2, 3 and 4 passes over one ground, and how far off that may be (CIEDE2000).

    ``ground`` is "paper" or the name of the impression beneath.
    """

    ground: str
    srgb_hex: tuple[str, ...]
    lab: tuple[Lab, ...]
    uncertainty_delta_e00: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class NearInk:
    """A mixed ink of the shelf that comes near a wanted colour over the paper, in so many passes."""

    number: int
    name: str
    passes: int
    srgb_hex: str
    delta_e00: float
    uncertainty_delta_e00: float


@dataclass(frozen=True, slots=True)
class Measure:
    """One component of a batch. ``thinned`` above 1: taken from a stock of one part in so many of paste."""

    name: str
    mass_g: float
    volume_ml: float
    thinned: int = 1


@dataclass(frozen=True, slots=True)
class Batch:
    """How much of an ink an edition takes, reserve included, and what is weighed for it.

    ``measures`` is empty for an ink that is taken from the shelf or mixed to match; ``rounding_delta_e00`` is
    what rounding to the scale costs, ``too_small`` names pigments of which too little is needed to be weighed
    surely. ``pot_g`` is what the shelf's pot holds, None when it is not known.
    """

    needed_g: float
    needed_ml: float
    measures: tuple[Measure, ...] = ()
    rounding_delta_e00: float = 0.0
    pot_g: float | None = None
    too_small: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PrintInk:
    """The ink of one impression, as it is to be mixed or taken from the shelf.

    ``optics`` is one pass of it; ``mixture`` whether two or more pigments are mixed, which two-constant
    theory predicts less well. ``shelf_number`` is the mixed ink of the shelf that is taken, ``recipe`` what
    is to be mixed otherwise; both are None for an ink that is taken as mixed to match. ``known_by`` is what
    makes it known, None for one that is mixed to match. ``delta_e00`` compares
    its planned passes over the paper with the colour wanted. ``near`` are inks of the shelf, the nearest
    first; ``cautions`` what is known of the pigments, one sentence each.
    """

    impression: int
    name: str
    origin: Origin
    optics: Optics
    transfer: tuple[float, ...]
    mixture: bool
    recipe: Recipe | None
    shelf_number: int | None
    delta_e00: float
    uncertainty_delta_e00: float
    swatches: tuple[Swatches, ...]
    batch: Batch | None = None
    near: tuple[NearInk, ...] = ()
    cautions: tuple[str, ...] = ()
    known_by: KnownBy | None = None


@dataclass(frozen=True, slots=True)
class PrintInks:
    """The inks of a print, one for each impression that is printed with one, in printing order."""

    inks: tuple[PrintInk, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Shelf:
    """What is at hand to mix and print with, each by name; nothing that is retired."""

    pigments: tuple[Pigment, ...] = ()
    inks: tuple[MixedInk, ...] = ()

"""Values between the types of the model and the columns of the tables, checked both ways."""

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, get_args

from sqlalchemy.engine import Connection

from blockwright.ledger.refusals import damaged
from blockwright.model.errors import BlockwrightError, InkError
from blockwright.model.inks import Bands, KnownBy, MixedInk, Optics, Origin, Part
from blockwright.model.shelf import ShelfPigment, Swatch

BAND_COUNT = 36
LONGEST_NAME = 100

HIGHEST_NUMBER = 2**31 - 1
"""What an integer column holds in every database."""

ORIGINS = get_args(Origin)

KNOWN_BY = get_args(KnownBy)

SWATCH_ORIGINS: tuple[Origin, ...] = ("scanned", "measured")
"""What a swatch can be."""

LIGHTFASTNESS = (
    *(f"ASTM {each}" for each in ("I", "II", "III", "IV", "V")),
    *(f"Blue Wool {each}" for each in range(1, 9)),
)
"""Classes of ASTM D4303 and of the Blue Wool scale."""

_SHARES_WITHIN = 1e-6
"""Shares of a film may miss 1 by this much: rounding of what is typed in."""

_SHA256 = re.compile(r"[0-9a-f]{64}")


HEAVIEST_POT_G = 100_000.0
"""No pot holds more; a heavier one is a slip of the hand."""


def check_name(name: str, what: str, *, error: type[BlockwrightError] = InkError) -> None:
    """See that a name can be kept, and told apart from a number. Raises InkError, or another ``error``.

    >>> check_name("deep; sea", "an ink")
    Traceback (most recent call last):
    ...
    blockwright.model.errors.InkError: 'deep; sea' cannot be the name of an ink; ...
    """
    plain = name == " ".join(name.split()) and name.isprintable() and ";" not in name
    if not plain or not 0 < len(name) <= LONGEST_NAME or name.isdecimal():
        allowed = f"a name is one line of 1 to {LONGEST_NAME} characters, without ; and not a mere number"
        raise error(f"{name!r} cannot be the name of {what}; {allowed}.")


def check_date(day: str | None, what: str) -> None:
    """See that a date is one. Raises InkError."""
    if day is not None:
        try:
            fits = date.fromisoformat(day).isoformat() == day
        except ValueError:
            fits = False
        if not fits:
            raise InkError(f"{day!r} is no date of {what}; write it as 2026-11-27.")


def check_positive(number: float, what: str, *, unit: str) -> None:
    """See that a number is above 0. Raises InkError."""
    if not 0.0 < number < math.inf:
        raise InkError(f"{what} is {number:g}; it is a number of {unit} above 0.")


def check_pigment(kept: ShelfPigment) -> None:
    """See that a pigment can be kept. Raises InkError."""
    pigment = kept.pigment
    check_name(pigment.name, "a pigment")
    check_optics(pigment.optics, pigment.name)
    _check_origin(pigment.origin, pigment.name)
    check_positive(pigment.density_g_per_ml, f"The density of {pigment.name}", unit="g/ml")
    if pigment.lightfastness is not None and pigment.lightfastness not in LIGHTFASTNESS:
        allowed = "ASTM I to ASTM V or Blue Wool 1 to Blue Wool 8"
        given = f"The lightfastness of {pigment.name} is {pigment.lightfastness!r}"
        raise InkError(f"{given}; it is {allowed}, or not known.")
    _check_transfer(pigment.transfer, pigment.name)


def check_ink(ink: MixedInk) -> None:
    """See that a mixed ink can be kept; its parts and paste make up the film. Raises InkError."""
    check_name(ink.name, "a mixed ink")
    check_optics(ink.optics, ink.name)
    _check_origin(ink.origin, ink.name)
    _check_known_by(ink)
    check_positive(ink.density_g_per_ml, f"The density of {ink.name}", unit="g/ml")
    _check_transfer(ink.transfer, ink.name)
    check_date(ink.made_on, ink.name)
    if not 0.0 <= ink.paste_share < 1.0:
        raise InkError(f"The paste in {ink.name} is {ink.paste_share:g} of it; 0 to below 1 is possible.")
    for part in ink.parts:
        if not 0.0 < part.share <= 1.0:
            raise InkError(
                f"The share of {part.pigment} in {ink.name} is {part.share:g}; it is above 0, at most 1."
            )
    if len({part.pigment for part in ink.parts}) < len(ink.parts):
        raise InkError(f"In the recipe of {ink.name} a pigment stands twice; give each one share.")
    whole = math.fsum([ink.paste_share, *(part.share for part in ink.parts)])
    if ink.parts and abs(whole - 1.0) > _SHARES_WITHIN:
        raise InkError(
            f"The parts and the paste of {ink.name} add up to {whole:.6g}; they make up 1, the whole."
        )
    if ink.pot_g is not None:
        check_weight(ink.pot_g, ink.name)


def _check_known_by(ink: MixedInk) -> None:
    if ink.known_by not in KNOWN_BY:
        raise InkError(f"{ink.name} is known by {ink.known_by!r}; it is one of {', '.join(KNOWN_BY)}.")
    if ink.known_by == "own swatch" and ink.origin not in SWATCH_ORIGINS:
        raise InkError(
            f"{ink.name} is known by its own swatch, so that its origin is {' or '.join(SWATCH_ORIGINS)}, "
            f"not {ink.origin}."
        )


def _check_transfer(transfer: Sequence[float], name: str) -> None:
    if not transfer:
        raise InkError(f"{name} has no transfer factor; 1 lays down as much as the first pass.")
    for factor in transfer:
        check_positive(factor, f"A transfer factor of {name}", unit="first passes")


def check_weight(weight_g: float, name: str) -> None:
    """See that a pot can hold so much. Raises InkError."""
    if not 0.0 <= weight_g <= HEAVIEST_POT_G:
        raise InkError(
            f"The pot of {name} weighs {weight_g:g} g; it is 0 g to {HEAVIEST_POT_G:.0f} g, without the pot "
            "itself."
        )


def check_swatch(swatch: Swatch) -> None:
    """See that a swatch can be kept. Raises InkError."""
    what = f"the swatch of {swatch.of}"
    _check_origin(swatch.origin, what)
    check_date(swatch.made_on, what)
    if swatch.passes < 1:
        raise InkError(f"{what[:1].upper()}{what[1:]} has {swatch.passes} passes; it has one or more.")
    if not swatch.ground.strip():
        raise InkError(f"Say what lies under {what}, such as white or black.")
    if swatch.reflectance is None and swatch.lab is None:
        raise InkError(f"Give {what} a colour, as a reflectance of {BAND_COUNT} bands or as Lab.")
    for bands in (swatch.reflectance, swatch.ground_reflectance):
        if bands is not None and (len(bands) != BAND_COUNT or not all(0.0 <= each <= 1.0 for each in bands)):
            raise InkError(f"A reflectance of {what} has {BAND_COUNT} bands of 0 to 1.")
    if swatch.lab is not None and not all(math.isfinite(each) for each in swatch.lab):
        raise InkError(f"The Lab of {what} is three numbers.")
    if swatch.file_sha256 is not None and not _SHA256.fullmatch(swatch.file_sha256):
        raise InkError(f"The SHA-256 of the file of {what} is 64 hexadecimal digits in small letters.")


def check_optics(optics: Optics, name: str) -> None:
    """See that optics are 36 bands of possible numbers. Raises InkError."""
    for letter, bands in (("K", optics.k), ("S", optics.s)):
        if len(bands) != BAND_COUNT or not all(0.0 <= each < math.inf for each in bands):
            raise InkError(f"{letter} of {name} has {BAND_COUNT} bands, each 0 or more.")
    spread = (*optics.log_k_spread, *optics.log_s_spread)
    if len(optics.log_k_spread) != len(optics.log_s_spread) or not all(
        len(row) == BAND_COUNT and all(math.isfinite(each) for each in row) for row in spread
    ):
        raise InkError(f"The uncertainty of {name} is pairs of {BAND_COUNT} numbers, for K and for S.")


def database_name(connection: Connection) -> str:
    """What the database is called to the printmaker."""
    return str(connection.get_execution_options().get("called", "the studio's database"))


def optics_kept(optics: Optics) -> dict[str, Any]:
    """Optics as the JSON of a column."""
    return {
        "k": list(optics.k),
        "s": list(optics.s),
        "log_k_spread": [list(row) for row in optics.log_k_spread],
        "log_s_spread": [list(row) for row in optics.log_s_spread],
    }


def optics_read(kept: Any, name: str, database: str) -> Optics:
    """Optics from the JSON of a column. Raises StudioError when they are none."""
    try:
        optics = Optics(
            _bands(kept["k"]),
            _bands(kept["s"]),
            tuple(_bands(row) for row in kept["log_k_spread"]),
            tuple(_bands(row) for row in kept["log_s_spread"]),
        )
        check_optics(optics, name)
    except (InkError, KeyError, TypeError, ValueError):
        raise damaged(database, f"what is known of {name}") from None
    return optics


def bands_read(kept: Any, what: str, database: str) -> Bands | None:
    """A row of numbers from the JSON of a column, or None. Raises StudioError when it is neither."""
    if kept is None:
        return None
    try:
        return _bands(kept)
    except (TypeError, ValueError):
        raise damaged(database, what) from None


def origin_read(kept: str, what: str, database: str) -> Origin:
    """An origin from its column. Raises StudioError when there is no such origin."""
    known: Mapping[str, Origin] = {each: each for each in ORIGINS}
    if kept not in known:
        raise damaged(database, f"the origin of {what}")
    return known[kept]


def known_by_read(kept: str, what: str, database: str) -> KnownBy:
    """What makes an ink known from its column. Raises StudioError when there is no such thing."""
    known: Mapping[str, KnownBy] = {each: each for each in KNOWN_BY}
    if kept not in known:
        raise damaged(database, f"what makes {what} known")
    return known[kept]


def usually_known_by(parts: Sequence[Part], origin: Origin) -> KnownBy:
    """What makes an ink known of which nobody said it: only one without a recipe is taken at its swatch.

    >>> usually_known_by((), "scanned"), usually_known_by((), "literature")
    ('own swatch', 'recipe')
    """
    return "own swatch" if not parts and origin in SWATCH_ORIGINS else "recipe"


def least_sure(origins: Iterable[Origin]) -> Origin:
    """The origin of a mixture: that of the pigment which is known least surely.

    >>> least_sure(["measured", "literature", "scanned"])
    'literature'
    """
    surest_first: tuple[Origin, ...] = ("measured", "scanned", "literature", "matched")
    return max(origins, key=surest_first.index)


def day_kept(day: str | None) -> date | None:
    """A date for its column."""
    return None if day is None else date.fromisoformat(day)


def day_read(kept: date | None) -> str | None:
    """A date from its column."""
    return None if kept is None else kept.isoformat()


def _bands(kept: Sequence[Any]) -> Bands:
    return tuple(float(each) for each in kept)


def _check_origin(origin: str, name: str) -> None:
    if origin not in ORIGINS:
        raise InkError(f"The origin of {name} is {origin!r}; it is one of {', '.join(ORIGINS)}.")

"""The shelf of the studio: pigments and mixed inks as a wall of swatches, and a card for each."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool

from blockwright import studio
from blockwright.ledger.values import LIGHTFASTNESS
from blockwright.model.errors import BitError, BlockwrightError, InkError, SettingsError, StudioError
from blockwright.model.inks import PASTE, MixedInk, Optics
from blockwright.model.settings import PrintTable
from blockwright.model.shelf import ShelfPigment
from blockwright.web import words
from blockwright.web.acts import Form, number
from blockwright.web.ink_cards import delta, grams, in_passes, recipe_said, shown_passes
from blockwright.web.pages import changed, refused
from blockwright.web.shelf_changes import last_change, noted
from blockwright.web.showing import show, show_sentence, wants_part

if TYPE_CHECKING:
    from blockwright.ledger import Ledger

router = APIRouter()

PAPER = str(PrintTable.model_fields["paper"].default)
"""The paper on which the wall shows everything: the usual one."""

_INK_FIELDS = ("name", "place", "made_on", "notes")
_PIGMENT_FIELDS = ("colour_index", "lightfastness", "hazard", "notes")
_UNKNOWN_WHEN_EMPTY = {"colour_index", "lightfastness", "hazard", "made_on"}


@dataclass(frozen=True, slots=True)
class Tile:
    """One thing on the wall: its swatches, what it is called, and what is said of it."""

    href: str
    id: str
    name: str
    said: str
    hexes: tuple[str, ...]
    quiet: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """What the wall is asked to show."""

    find: str
    near: str
    retired: bool


@lru_cache(maxsize=4096)
def _hexes(optics: Optics, transfer: tuple[float, ...]) -> tuple[str, ...]:
    return studio.passes_on(optics, PAPER, transfer=transfer)


def _pigment_href(name: str) -> str:
    return "/shelf/pigment?" + urlencode({"name": name})


def _ink_tile(ink: MixedInk, off: str = "") -> Tile:
    pot = words.TEXTS["tile_not_weighed"] if ink.pot_g is None else _in_pot(ink.pot_g)
    said = words.TEXTS["tile_retired"] if ink.retired else pot
    swatch = words.TEXTS["tile_own_swatch"] if ink.known_by == "own swatch" else ""
    return Tile(
        f"/shelf/ink/{ink.number}",
        f"ink-{ink.number}",
        f"{ink.number} · {ink.name}",
        " · ".join(each for each in (off, said, swatch) if each),
        _hexes(ink.optics, ink.transfer),
        ink.retired,
    )


def _in_pot(pot_g: float) -> str:
    return words.fmt("tile_pot", grams=grams(pot_g))


def _pigment_tile(kept: ShelfPigment, place: int, off: str = "") -> Tile:
    pigment = kept.pigment
    away = "tile_retired" if kept.retired else "" if kept.on_shelf else "tile_not_at_hand"
    said = (off, pigment.colour_index or "", words.TEXTS[away] if away else "")
    return Tile(
        _pigment_href(pigment.name),
        f"pigment-{place}",
        pigment.name,
        " · ".join(each for each in said if each),
        _hexes(pigment.optics, pigment.transfer),
        bool(away),
    )


def _place(kept: ShelfPigment) -> tuple[bool, bool, str]:
    """What is at hand comes first, each by name."""
    return kept.retired, not kept.on_shelf, kept.pigment.name.casefold()


def _off(delta_e00: float, passes: int) -> str:
    return words.fmt("tile_off", delta=delta(delta_e00), times=in_passes(passes))


def _tiles(
    asked: Asked, pigments: Sequence[ShelfPigment], inks: Sequence[MixedInk]
) -> tuple[list[Tile], list[Tile]]:
    """The wall, nearest first where a colour is asked for. Raises SettingsError when that is none."""
    if asked.near:
        near = studio.nearest_on(inks, asked.near, paper=PAPER)
        alone = studio.nearest_pigments(pigments, asked.near, paper=PAPER)
        return (
            [_ink_tile(each.ink, _off(each.delta_e00, each.passes)) for each in near],
            [
                _pigment_tile(kept, k, _off(each.delta_e00, each.passes))
                for k, (kept, each) in enumerate(alone)
            ],
        )
    at_hand_first = sorted(pigments, key=_place)
    return (
        [_ink_tile(each) for each in inks],
        [_pigment_tile(each, k) for k, each in enumerate(at_hand_first)],
    )


def _wall(asked: Asked) -> dict[str, Any]:
    """What the wall's page shows. Raises StudioError; a colour that is none is said beside its field."""
    shelf = studio.open_studio()
    pigments = studio.list_pigments(shelf, asked.find, retired=asked.retired)
    inks = studio.list_inks(shelf, asked.find, retired=asked.retired)
    refusal = None
    try:
        ink_tiles, pigment_tiles = _tiles(asked, pigments, inks)
    except (InkError, SettingsError) as error:
        refusal = str(error)
        ink_tiles, pigment_tiles = _tiles(Asked(asked.find, "", asked.retired), pigments, inks)
    return {
        "asked": asked,
        "refusal": refusal,
        "inks": ink_tiles,
        "pigments": pigment_tiles,
        "paper": PAPER,
        "at_hand": sum(each.on_shelf and not each.retired for each in pigments),
        "searched": bool(asked.find or asked.near),
        "picked": asked.near if len(asked.near) == 7 and asked.near.startswith("#") else "#808080",
        "all_href": "/shelf?" + urlencode({"find": asked.find, "near": asked.near, "retired": "yes"}),
        "kept_href": "/shelf?" + urlencode({"find": asked.find, "near": asked.near}),
    }


def shelf_page(request: Request, name: str, make: Callable[[], dict[str, Any]]) -> Response:
    """A page of the shelf; a database that cannot be opened is a sentence on it."""
    try:
        told = make()
    except StudioError as error:
        return show(request, "shelf_wrong.html", wrong=str(error), here=str(request.url.path))
    except (InkError, BitError):
        onward = ("/shelf", words.TEXTS["card_back"])
        return show_sentence(request, words.TEXTS["card_none"], status=404, onward=onward)
    template = f"part_{name}.html" if wants_part(request) else f"{name}.html"
    return show(request, template, may_write=True, last=last_change(request), **told)


@router.get("/shelf")
def wall(request: Request, find: str = "", near: str = "", retired: str = "") -> Response:
    """The wall; ``find`` are words, ``near`` a colour as it is typed, ``retired`` shows retired ones too."""
    asked = Asked(" ".join(find.split())[:200], near.strip()[:60], bool(retired))
    return shelf_page(request, "shelf", lambda: _wall(asked))


@router.get("/shelf/ink/{number}")
def ink_card(request: Request, number: int) -> Response:
    """The card of a mixed ink."""
    return shelf_page(request, "shelf_ink", lambda: _ink(number))


@router.get("/shelf/pigment")
def pigment_card(request: Request, name: str = "") -> Response:
    """The card of a pigment."""
    return shelf_page(request, "shelf_pigment", lambda: _pigment(name))


def _ink(called: int) -> dict[str, Any]:
    shelf = studio.open_studio()
    ink = studio.show_ink(shelf, called)
    before = studio.weighings(shelf, called)
    parts = [(each.pigment, each.share) for each in ink.parts]
    if ink.parts and ink.paste_share > 0:
        parts.append((PASTE, ink.paste_share))
    return {
        "ink": ink,
        "swatches": shown_passes(_hexes(ink.optics, ink.transfer)),
        "paper": PAPER,
        "pot": "" if ink.pot_g is None else words.figure(ink.pot_g, 3),
        "weighed": [
            words.fmt("card_weighing", grams=grams(each.weight_g), day=each.at.date().isoformat())
            for each in before[-4:][::-1]
        ],
        "recipe": words.fmt("card_recipe_said", parts=recipe_said(parts)) if parts else None,
        "known": _known(ink),
        "may_reckon": ink.known_by == "own swatch" and bool(ink.parts),
        "uses": [
            words.opening(words.fmt("card_use", impression=each.impression, title=each.title))
            for each in studio.uses(shelf, called)
        ],
        "post": f"/shelf/ink/{called}",
    }


def _known(ink: MixedInk) -> str:
    """How a mixed ink is known, in a sentence."""
    if ink.known_by == "own swatch":
        return words.TEXTS[f"card_own_{ink.origin}"]
    known = words.TEXTS[f"card_origin_{ink.origin}"]
    return words.fmt("card_reckoned", known=known[:1].lower() + known[1:]) if ink.parts else known


def _pigment(name: str) -> dict[str, Any]:
    shelf = studio.open_studio()
    kept = studio.show_pigment(shelf, name)
    using = [
        {"href": f"/shelf/ink/{ink.number}", "name": f"{ink.number} {ink.name}"}
        for ink in studio.list_inks(shelf)
        if any(part.pigment == kept.pigment.name for part in ink.parts)
    ]
    return {
        "kept": kept,
        "pigment": kept.pigment,
        "swatches": shown_passes(_hexes(kept.pigment.optics, kept.pigment.transfer)),
        "paper": PAPER,
        "density": words.figure(kept.pigment.density_g_per_ml, 3),
        "known": words.TEXTS[f"card_origin_{kept.pigment.origin}"],
        "classes": LIGHTFASTNESS,
        "using": using,
    }


async def form_of(request: Request) -> Form:
    """The fields of a form that are text."""
    form = await request.form()
    return Form([(name, value) for name, value in form.multi_items() if isinstance(value, str)])


def done(request: Request, step: Callable[[], str]) -> Response:
    """Do a step on the shelf, and say what was done, or why not."""
    try:
        return changed(step())
    except BlockwrightError as error:
        return refused(request, str(error))


def figure_of(form: Form, refusal: str) -> float:
    """A number of the form's field ``value``. Raises InkError with the refusal."""
    value = number(form.text("value"))
    if not isinstance(value, float):
        raise InkError(words.TEXTS[refusal])
    return value


@router.post("/shelf/ink/{called}/weigh")
async def weigh(request: Request, called: int) -> Response:
    """Note what the pot of a mixed ink holds."""
    form = await form_of(request)

    def step() -> str:
        weight_g = figure_of(form, "card_pot_number")

        def write(shelf: "Ledger") -> tuple[MixedInk, str]:
            ink = studio.weigh(shelf, called, weight_g)
            return ink, words.fmt("did_weigh", name=ink.name, grams=grams(ink.pot_g or 0.0))

        return noted(request, called, "pot_g", write)

    return await run_in_threadpool(done, request, step)


@router.post("/shelf/ink/{called}/edit")
async def edit_ink(request: Request, called: int) -> Response:
    """Change one field of a mixed ink."""
    form = await form_of(request)

    def step() -> str:
        if form.text("field") == "known_by":
            shelf = studio.open_studio()
            ink = studio.edit_ink(shelf, called, **studio.by_recipe(shelf, studio.show_ink(shelf, called)))
            return words.fmt("did_reckon", name=ink.name)
        field, value, said = _change(form, _INK_FIELDS)

        def write(shelf: "Ledger") -> tuple[MixedInk, str]:
            ink = studio.edit_ink(shelf, called, **{field: value})
            return ink, words.fmt(said, name=ink.name)

        return noted(request, called, field, write)

    return await run_in_threadpool(done, request, step)


@router.post("/shelf/pigment")
async def edit_pigment(request: Request) -> Response:
    """Change one field of a pigment, which the form's ``name`` names."""
    form = await form_of(request)

    def step() -> str:
        field, value, said = _change(form, _PIGMENT_FIELDS)
        name = form.text("name")

        def write(shelf: "Ledger") -> tuple[ShelfPigment, str]:
            kept = studio.edit_pigment(shelf, name, **{field: value})
            return kept, words.fmt(said, name=kept.pigment.name)

        return noted(request, name, field, write)

    return await run_in_threadpool(done, request, step)


def _change(form: Form, fields: tuple[str, ...]) -> tuple[str, Any, str]:
    """The field that a form changes, its value, and the key of the words that say so. Raises InkError."""
    field, value = form.text("field"), form.maybe("value") or ""
    if field == "retired":
        return field, form.yes("value"), "did_retire" if form.yes("value") else "did_unretire"
    if field == "on_shelf" and "hazard" in fields:
        return field, form.yes("value"), "did_change"
    if field == "density_g_per_ml" and "hazard" in fields:
        return field, figure_of(form, "card_density_number"), "did_change"
    if field not in fields:
        raise InkError(words.TEXTS["not_a_field"])
    return field, value or (None if field in _UNKNOWN_WHEN_EMPTY else ""), "did_change"


def names_at_hand(shelf: "Ledger") -> list[str]:
    """The names of the pigments that are at hand."""
    kept = sorted(studio.list_pigments(shelf), key=_place)
    return [each.pigment.name for each in kept if each.on_shelf and not each.retired]

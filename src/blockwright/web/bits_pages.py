"""The shelf's router bits and machines: all of them at a glance, a card for each, and new ones."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool

from blockwright import bits, studio
from blockwright.ledger.router_values import BIT_KINDS
from blockwright.model.errors import BitError, BlockwrightError
from blockwright.model.router import Bit
from blockwright.model.shelf import ShelfBit, ShelfMachine
from blockwright.web import words
from blockwright.web.acts import Form, number
from blockwright.web.bit_drawings import TILE_MM, BitDrawn, drawn_bit, window_of
from blockwright.web.pages import refused
from blockwright.web.shelf_changes import noted
from blockwright.web.shelf_pages import done, form_of, shelf_page

if TYPE_CHECKING:
    from blockwright.ledger import Ledger

router = APIRouter()

_BIT_FIGURES = frozenset({"diameter_mm", "cutting_mm", "shank_mm", "angle_deg", "tip_mm"})
_BIT_WHOLES = frozenset({"number", "flutes"})
_MACHINE_FIGURES = frozenset(
    {
        "feed_mm_min",
        "plunge_mm_min",
        "rapid_mm_min",
        "acceleration_mm_s2",
        "safe_mm",
        "junction_mm",
        "change_s",
    }
)
_MACHINE_PARTS = {
    "reach_x": ("reach_mm", 0),
    "reach_y": ("reach_mm", 1),
    "reach_z": ("reach_mm", 2),
    "rpm_least": ("rpm", 0),
    "rpm_most": ("rpm", 1),
}
"""Fields that are one of several numbers: which they are of, and which of them."""


@dataclass(frozen=True, slots=True)
class BitTile:
    """A bit on the wall."""

    href: str
    name: str
    said: str
    drawn: BitDrawn
    quiet: bool


@dataclass(frozen=True, slots=True)
class MachineTile:
    """A machine on the wall: its travel in mm, which the wall draws."""

    href: str
    name: str
    said: str
    x_mm: float
    y_mm: float
    quiet: bool


def _href(what: str, name: str) -> str:
    return f"/shelf/{what}?" + urlencode({"name": name})


def _said(bit: Bit) -> str:
    """What a bit is, in a few words."""
    kind, diameter = words.TEXTS[f"bit_kind_{bit.kind}"], words.figure(bit.diameter_mm, 3)
    if bit.kind in ("V", "tapered"):
        angle = words.figure(bit.angle_deg, 1)
        return words.fmt("bit_tile_angle", kind=kind, diameter=diameter, angle=angle)
    return words.fmt("bit_tile", kind=kind, diameter=diameter)


def _bit_tile(kept: ShelfBit) -> BitTile:
    bit = kept.bit
    retired = f" · {words.TEXTS['tile_retired']}" if kept.retired else ""
    name = words.fmt("bit_name", number=bit.number, name=bit.name)
    return BitTile(_href("bit", bit.name), name, _said(bit) + retired, drawn_bit(bit, TILE_MM), kept.retired)


def _machine_tile(kept: ShelfMachine) -> MachineTile:
    machine = kept.machine
    x_mm, y_mm, _ = machine.reach_mm
    retired = f" · {words.TEXTS['tile_retired']}" if kept.retired else ""
    said = words.fmt("machine_tile", **_travel(kept))
    return MachineTile(_href("machine", machine.name), machine.name, said + retired, x_mm, y_mm, kept.retired)


def _travel(kept: ShelfMachine) -> dict[str, str]:
    return {axis: words.figure(each) for axis, each in zip("xyz", kept.machine.reach_mm, strict=True)}


def _wall(*, retired: bool) -> dict[str, Any]:
    shelf = studio.open_studio()
    machines = bits.list_machines(shelf, retired=retired)
    return {
        "bits": [_bit_tile(each) for each in bits.list_bits(shelf, retired=retired)],
        "machines": [_machine_tile(each) for each in machines],
        "window": window_of([each.machine for each in machines]),
        "begin_with": [each.machine.name for each in bits.list_machines(shelf, retired=True)],
        "kinds": BIT_KINDS,
        "retired": retired,
    }


def _bit(name: str) -> dict[str, Any]:
    kept = bits.show_bit(studio.open_studio(), name)
    drawn = drawn_bit(kept.bit)
    return {
        "kept": kept,
        "bit": kept.bit,
        "title": words.fmt("bit_name", number=kept.bit.number, name=kept.bit.name),
        "said": _said(kept.bit),
        "kind": words.opening(words.fmt("bit_under", kind=words.TEXTS[f"bit_kind_{kept.bit.kind}"])),
        "drawn": drawn,
        "slender": kept.bit.kind in ("V", "tapered"),
    }


def _machine(name: str) -> dict[str, Any]:
    kept = bits.show_machine(studio.open_studio(), name)
    return {
        "kept": kept,
        "machine": kept.machine,
        "window": window_of([kept.machine]),
        "travel": _travel(kept),
    }


@router.get("/shelf/bits")
def bits_wall(request: Request, retired: str = "") -> Response:
    """All bits and machines; ``retired`` shows retired ones too."""
    return shelf_page(request, "shelf_bits", lambda: _wall(retired=bool(retired)))


@router.get("/shelf/bit")
def bit_card(request: Request, name: str = "") -> Response:
    """The card of a bit."""
    return shelf_page(request, "shelf_bit", lambda: _bit(name))


@router.get("/shelf/machine")
def machine_card(request: Request, name: str = "") -> Response:
    """The card of a machine."""
    return shelf_page(request, "shelf_machine", lambda: _machine(name))


def _figure(text: str) -> float:
    value = number(text)
    if not isinstance(value, float):
        raise BitError(words.TEXTS["bits_needs_number"])
    return value


def _whole(text: str) -> int:
    value = _figure(text)
    if not value.is_integer():
        raise BitError(words.TEXTS["bits_needs_whole"])
    return int(value)


def _bit_change(form: Form) -> tuple[str, Any]:
    """The field of a bit that a form changes, and its value. Raises BitError."""
    field, text = form.text("field"), form.maybe("value") or ""
    if field == "retired":
        return field, form.yes("value")
    if field == "notes":
        return field, text
    if field in _BIT_WHOLES:
        return field, _whole(text)
    if field in _BIT_FIGURES:
        return field, _figure(text)
    raise BitError(words.TEXTS["not_a_field"])


def _machine_change(form: Form, before: ShelfMachine) -> tuple[str, Any]:
    """The field of a machine that a form changes, and its value. Raises BitError."""
    field, text = form.text("field"), form.maybe("value") or ""
    if field in ("retired", "arcs", "tool_change"):
        return field, form.yes("value")
    if field == "notes":
        return field, text
    if field in ("begin", "end"):
        return field, tuple(text.splitlines())
    if field in _MACHINE_PARTS:
        name, place = _MACHINE_PARTS[field]
        numbers = list(getattr(before.machine, name))
        numbers[place] = _figure(text)
        return name, tuple(numbers)
    if field in _MACHINE_FIGURES:
        return field, _figure(text)
    raise BitError(words.TEXTS["not_a_field"])


def _did(field: str, value: Any) -> str:
    if field == "retired":
        return "did_retire" if value else "did_unretire"
    return "did_change"


@router.post("/shelf/bit")
async def edit_bit(request: Request) -> Response:
    """Change one field of a bit, which the form's ``name`` names."""
    form = await form_of(request)

    def step() -> str:
        field, value = _bit_change(form)
        name = form.text("name")

        def write(shelf: "Ledger") -> tuple[ShelfBit, str]:
            kept = bits.edit_bit(shelf, name, **{field: value})
            return kept, words.fmt(_did(field, value), name=kept.bit.name)

        return noted(request, ("bit", name), field, write)

    return await run_in_threadpool(done, request, step)


@router.post("/shelf/machine")
async def edit_machine(request: Request) -> Response:
    """Change one field of a machine, which the form's ``name`` names."""
    form = await form_of(request)

    def step() -> str:
        name = form.text("name")
        field, value = _machine_change(form, bits.show_machine(studio.open_studio(), name))

        def write(shelf: "Ledger") -> tuple[ShelfMachine, str]:
            kept = bits.edit_machine(shelf, name, **{field: value})
            return kept, words.fmt(_did(field, value), name=kept.machine.name)

        return noted(request, ("machine", name), field, write)

    return await run_in_threadpool(done, request, step)


def _new_bit(form: Form) -> Bit:
    """A bit as it was typed; angle and tip are those of a V or tapered one only. Raises BitError."""
    kind = form.text("kind")
    slender = kind in ("V", "tapered")
    return Bit(
        number=0,
        name=form.maybe("name") or "",
        kind=kind,  # type: ignore[arg-type]
        diameter_mm=_figure(form.text("diameter_mm")),
        flutes=_whole(form.text("flutes")),
        cutting_mm=_figure(form.text("cutting_mm")),
        angle_deg=_figure(form.text("angle_deg")) if slender else 0.0,
        tip_mm=_figure(form.text("tip_mm")) if slender else 0.0,
        shank_mm=_figure(form.text("shank_mm")),
    )


def _added(request: Request, step: Callable[[], str]) -> Response:
    """Add what a form tells and go to its card, or say why not."""
    try:
        address = step()
    except BlockwrightError as error:
        return refused(request, str(error))
    return Response(status_code=200, headers={"HX-Redirect": address})


@router.post("/shelf/bits/bit")
async def add_bit(request: Request) -> Response:
    """Put a bit on the shelf, and go to its card."""
    form = await form_of(request)

    def step() -> str:
        return _href("bit", bits.add_bit(studio.open_studio(), _new_bit(form)).bit.name)

    return await run_in_threadpool(_added, request, step)


@router.post("/shelf/bits/machine")
async def add_machine(request: Request) -> Response:
    """Put a machine on the shelf that begins as another one, and go to its card."""
    form = await form_of(request)

    def step() -> str:
        shelf = studio.open_studio()
        first = bits.show_machine(shelf, form.text("like")).machine
        kept = bits.add_machine(shelf, replace(first, name=form.maybe("name") or ""))
        return _href("machine", kept.machine.name)

    return await run_in_threadpool(_added, request, step)

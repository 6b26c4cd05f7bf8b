"""The last change on the shelf, and the act that puts back what was before it.

It is kept while the app runs. What is put back is written like any other change: a weight that was wrong
stays among the weighings, followed by the one that holds again.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool

from blockwright import bits, studio
from blockwright.model.errors import BlockwrightError, InkError
from blockwright.model.inks import MixedInk
from blockwright.model.shelf import ShelfBit, ShelfMachine, ShelfPigment
from blockwright.web import words
from blockwright.web.ink_cards import grams
from blockwright.web.pages import changed, refused

if TYPE_CHECKING:
    from blockwright.ledger import Ledger

router = APIRouter()

Routs = tuple[Literal["bit", "machine"], str]
"""A router bit or a machine, by its name."""

OnTheShelf = int | str | Routs
"""A mixed ink by its number, a pigment by its name, or what routs."""

Kept = MixedInk | ShelfPigment | ShelfBit | ShelfMachine

OF_THE_SHELF = frozenset({"on_shelf", "notes", "retired"})
"""Fields that are the shelf's, not the own ones of a pigment, a bit or a machine."""


@dataclass(frozen=True, slots=True)
class ShelfChange:
    """One field of a mixed ink (its number), a pigment (its name), a bit or a machine that was changed, and
    what was said.
    """

    of: OnTheShelf
    field: str
    before: Any
    after: Any
    said: str


def last_change(request: Request) -> ShelfChange | None:
    """What was changed last since the app began; None when nothing was, or it is put back."""
    found = getattr(request.app.state, "shelf_change", None)
    return found if isinstance(found, ShelfChange) else None


def note_change(request: Request, change: ShelfChange) -> None:
    """Offer to put this back; a change that changes nothing, or a first weighing, offers nothing new.

    A pot that was never weighed cannot be unweighed: another weighing mends it.
    """
    if change.before == change.after:
        return
    impossible = change.field == "pot_g" and change.before is None
    request.app.state.shelf_change = None if impossible else change


def value_of(shelf: "Ledger", of: OnTheShelf, field: str) -> Any:
    """What a field holds now. Raises InkError or BitError when there is no such thing."""
    match of:
        case int():
            return field_of(studio.show_ink(shelf, of), field)
        case str():
            return field_of(studio.show_pigment(shelf, of), field)
        case ("bit", name):
            return field_of(bits.show_bit(shelf, name), field)
        case (_, name):
            return field_of(bits.show_machine(shelf, name), field)


def field_of(found: Kept, field: str) -> Any:
    """A field of what stands on the shelf."""
    if isinstance(found, MixedInk) or field in OF_THE_SHELF:
        return getattr(found, field)
    match found:
        case ShelfPigment(own):
            return getattr(own, field)
        case ShelfBit(bit):
            return getattr(bit, field)
        case ShelfMachine(machine):
            return getattr(machine, field)


def _put_back(change: ShelfChange) -> str:
    """Write what was before. Raises InkError when it was changed again meanwhile, by whatever hand."""
    shelf = studio.open_studio()
    if value_of(shelf, change.of, change.field) != change.after:
        raise InkError(words.TEXTS["put_back_other"])
    if isinstance(change.of, tuple):
        name = _edit_router(shelf, change.of, **{change.field: change.before})
    elif not isinstance(change.of, int):
        name = studio.edit_pigment(shelf, change.of, **{change.field: change.before}).pigment.name
    elif change.field == "pot_g":
        name = studio.weigh(shelf, change.of, change.before).name
        return words.fmt("did_put_back_weight", name=name, grams=grams(change.before))
    else:
        name = studio.edit_ink(shelf, change.of, **{change.field: change.before}).name
    return words.fmt("did_put_back", name=name)


def _edit_router(shelf: "Ledger", of: Routs, **fields: Any) -> str:
    """Change what routs; its name."""
    what, name = of
    if what == "bit":
        return bits.edit_bit(shelf, name, **fields).bit.name
    return bits.edit_machine(shelf, name, **fields).machine.name


@router.post("/shelf/put-back")
async def put_back(request: Request) -> Response:
    """Put back what was changed last."""

    def step() -> Response:
        change = last_change(request)
        if change is None:
            return refused(request, words.TEXTS["put_back_nothing"])
        try:
            said = _put_back(change)
        except BlockwrightError as error:
            return refused(request, str(error))
        request.app.state.shelf_change = None
        return changed(said)

    return await run_in_threadpool(step)


def noted(
    request: Request,
    of: OnTheShelf,
    field: str,
    write: Callable[["Ledger"], tuple[Kept, str]],
) -> str:
    """Write one field of a thing on the shelf, offer to put it back, and give what is said of it.

    ``write`` gives the thing as it then is, and the sentence. Raises BlockwrightError when it is refused.
    """
    shelf = studio.open_studio()
    before = value_of(shelf, of, field)
    found, said = write(shelf)
    note_change(request, ShelfChange(of, field, before, field_of(found, field), said))
    return said

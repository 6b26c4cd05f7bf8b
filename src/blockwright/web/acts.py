"""From a form that a page sent to one act of :mod:`blockwright.deciding`, which judges the values."""

import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal, cast, get_args

from blockwright.deciding import (
    Act,
    AddAccept,
    AddDrop,
    AddGradation,
    AddMerge,
    AddName,
    AddOverprint,
    AddRecolour,
    DropBoard,
    PutBoard,
    SetFaceMethod,
    SetMixFrom,
    SetOrder,
    SetPalette,
    SetPasses,
    SetPigments,
    SetSharing,
    SetTake,
    SetTrapOf,
    SetValue,
    TakeBack,
)
from blockwright.deciding.acts import (
    AddSplit,
    SetEdgeTrap,
    SetFaceRouter,
    SetFinish,
    SetGradationWay,
    SetKey,
    SharingHow,
)
from blockwright.decisions import table_called
from blockwright.model.axis import Way
from blockwright.model.errors import SettingsError
from blockwright.model.units import PointMm
from blockwright.web import words

_NUMBER = re.compile(r"\s*([-+]?\d*[.,]?\d+(?:[eE][-+]?\d+)?)\s*(?:mm2?|mm²|cm|dpi|g/m²|ml|g|%)?\s*")
"""A number as people type it: a comma will do, and a unit behind it does no harm."""

_YES = {"true", "on", "yes", "1"}


class Form:
    """The fields of a form: text by name, some of them repeated."""

    def __init__(self, fields: Sequence[tuple[str, str]]) -> None:
        self._fields = fields

    def text(self, name: str) -> str:
        """A field that must be there. Raises SettingsError."""
        for each, value in self._fields:
            if each == name:
                return value.strip()
        raise SettingsError(words.fmt("needs_field", what=name))

    def maybe(self, name: str) -> str | None:
        """A field that may be missing or empty."""
        return next((value.strip() for each, value in self._fields if each == name and value.strip()), None)

    def every(self, name: str) -> tuple[str, ...]:
        """All values of a repeated field."""
        return tuple(value for each, value in self._fields if each == name)

    def place(self, name: str) -> PointMm:
        """A place as ``x,y`` in mm. Raises SettingsError."""
        parts = [number(part) for part in self.text(name).split(",")]
        if len(parts) != 2 or not all(isinstance(part, float) for part in parts):
            raise SettingsError(words.TEXTS["needs_place"])
        return float(parts[0]), float(parts[1])

    def yes(self, name: str) -> bool:
        """Whether a box is ticked or a choice says so."""
        return (self.maybe(name) or "").lower() in _YES

    def whole(self, name: str) -> int:
        """A whole number. Raises SettingsError."""
        value = number(self.text(name))
        if not isinstance(value, float) or not value.is_integer():
            raise SettingsError(words.fmt("needs_whole", what=words.opening(name)))
        return int(value)


def number(text: str) -> float | str:
    """A number as it was typed, or the text itself when it is none.

    >>> number("0,5 mm"), number(" 12 "), number("twelve")
    (0.5, 12.0, 'twelve')
    """
    told = _NUMBER.fullmatch(text)
    if not told:
        return text
    value = float(told[1].replace(",", "."))
    return value if math.isfinite(value) else text


def typed_value(table: str, key: str, text: str) -> Any:
    """What was typed for a setting, in the setting's own type; empty text means the default.

    What does not fit stays text: the settings then refuse it with their own sentence.

    >>> typed_value("separation", "trap_mm", "0,7"), typed_value("design", "colours", "14")
    (0.7, 14)
    >>> typed_value("design", "colours", "") is None, typed_value("design", "colours", "some")
    (True, 'some')
    """
    text = text.strip()
    if not text:
        return None
    model = table_called(table)
    if model is None or key not in model.model_fields:
        return text
    annotation = model.model_fields[key].annotation
    kinds = {annotation, *get_args(annotation)}
    if bool in kinds:
        return text.lower() in _YES
    value = number(text)
    if int in kinds and isinstance(value, float) and value.is_integer():
        return int(value)
    return value if kinds & {int, float} else text


def _passes(form: Form) -> Act:
    return SetPasses(form.text("colour"), form.whole("times"))


def _trap_mm(form: Form) -> float | None:
    """How far a trap goes; None, the field left empty, is the usual. Raises SettingsError."""
    text = form.maybe("mm")
    if text is None:
        return None
    value = number(text)
    if not isinstance(value, float):
        raise SettingsError(words.fmt("needs_number", what=words.TEXTS["trap_label"]))
    return value


def _finish(form: Form) -> Act:
    """Karazuri, leaf or neither: ``finish`` is "front", "back", "leaf" with a ``metal``, or empty."""
    wanted = form.maybe("finish")
    kind, _, metal = (wanted or "").partition(" ")
    if kind not in ("", "front", "back", "leaf") or (kind == "leaf") != bool(metal):
        raise SettingsError(words.TEXTS["not_an_act"])
    return SetFinish(
        colour=form.maybe("colour"),
        at=form.place("at") if form.maybe("at") else None,
        side=cast("Literal['front', 'back']", kind) if kind in ("front", "back") else None,
        metal=metal or None,
        printed=form.yes("printed") if form.maybe("printed") else None,
    )


def _take(form: Form) -> Act:
    shelf, times = (form.whole(name) if form.maybe(name) else None for name in ("shelf", "times"))
    return SetTake(form.text("colour"), shelf, times)


def _names(form: Form, name: str) -> tuple[str, ...]:
    """Names as fields of their own, or as one list: names have commas in them. Raises SettingsError."""
    told = form.maybe(f"{name}s")
    try:
        names = json.loads(told) if told else form.every(name)
        return tuple(str(each) for each in names)
    except (ValueError, TypeError, RecursionError):
        raise SettingsError(words.TEXTS["not_an_act"]) from None


def _set_value(form: Form) -> Act:
    table, key = form.text("table"), form.text("key")
    return SetValue(table, key, typed_value(table, key, form.text("value")))


def _board(form: Form) -> Act:
    """A board; what is no number stays text, and the settings refuse it with their own sentence."""

    def figure(name: str) -> Any:
        return number(form.text(name))

    count = number(form.maybe("count") or "")
    return PutBoard(
        name=form.text("name"),
        wood=form.text("wood"),
        width_mm=figure("width_mm"),
        height_mm=figure("height_mm"),
        thickness_mm=figure("thickness_mm"),
        grain=cast("Literal['along', 'across']", form.maybe("grain") or "along"),
        count=cast(
            "int | None", int(count) if isinstance(count, float) and count.is_integer() else count or None
        ),
        cut=cast("Literal['flat sawn', 'quarter sawn']", form.maybe("cut") or "flat sawn"),
        moves_percent=cast("float | None", number(form.maybe("moves_percent") or "") or None),
        was=form.maybe("was"),
    )


def _face_method(form: Form) -> Act:
    method = form.maybe("method")
    if method not in (None, "hand", "stencil", "router"):
        raise SettingsError(words.TEXTS["not_an_act"])
    return SetFaceMethod(form.text("face"), cast("Literal['hand', 'stencil', 'router'] | None", method))


def _router_bits(form: Form) -> Act:
    """The bits of one face where the form names it, else those of all."""
    bits, face = _names(form, "bit") or None, form.maybe("face")
    return SetValue("cutting.router", "bits", bits) if face is None else SetFaceRouter(face, "bits", bits)


def _face_router(form: Form) -> Act:
    """The machine of one face or how it lies there; empty, as for all faces."""
    key, value = form.text("key"), form.maybe("value")
    if key == "machine":
        return SetFaceRouter(form.text("face"), "machine", value)
    if key == "quarter_turn":
        return SetFaceRouter(
            form.text("face"), "quarter_turn", None if value is None else value.lower() in _YES
        )
    raise SettingsError(words.TEXTS["not_an_act"])


def _sharing(form: Form) -> Act:
    how = form.text("how")
    if how not in get_args(SharingHow):
        raise SettingsError(words.TEXTS["not_an_act"])
    return SetSharing(_names(form, "colour"), cast("Any", how))


def _gradation(form: Form) -> Act:
    """A gradation by its two ends, typed one number a field; ``flat`` takes it away."""
    if form.yes("flat"):
        return AddGradation(form.place("at"))
    ends = {name: number(form.text(name)) for name in ("start_x", "start_y", "end_x", "end_y")}
    told = [value for value in ends.values() if isinstance(value, float)]
    if len(told) != len(ends):
        raise SettingsError(words.fmt("needs_number", what=words.TEXTS["gradation_ends"]))
    return AddGradation(form.place("at"), (told[0], told[1]), (told[2], told[3]))


def _gradation_way(form: Form) -> Act:
    """How a gradation is printed; an empty field leaves it to the tool."""
    way = form.maybe("way")
    if way is not None and way not in get_args(Way):
        raise SettingsError(words.TEXTS["not_an_act"])
    return SetGradationWay(form.place("at"), cast("Way | None", way))


def _order(form: Form) -> Act:
    return SetOrder(_names(form, "name"))


def _palette(form: Form) -> Act:
    # A button's values that are a list arrive as one field, with commas.
    hexes = tuple(hex for each in form.every("hex") for hex in each.split(",") if hex)
    return SetPalette(hexes or None)


_ACTS: Mapping[str, Callable[[Form], Act]] = {
    "set-value": _set_value,
    "add-recolour": lambda form: AddRecolour(form.place("at"), form.text("to"), form.yes("here")),
    "add-merge": lambda form: AddMerge(form.place("at"), form.place("into"), form.yes("everywhere")),
    "add-drop": lambda form: AddDrop(form.place("at")),
    "add-gradation": _gradation,
    "set-gradation-way": _gradation_way,
    "add-name": lambda form: AddName(form.place("at"), form.text("name")),
    "add-accept": lambda form: AddAccept(
        form.text("finding"), form.place("at") if form.maybe("at") else None
    ),
    "take-back": lambda form: TakeBack(form.text("table"), form.text("key"), form.whole("index")),
    "add-overprint": lambda form: AddOverprint(form.place("at"), form.place("over"), form.yes("lies")),
    "add-split": lambda form: AddSplit(form.place("at"), form.maybe("name")),
    "set-order": _order,
    "set-passes": _passes,
    "set-trap-of": lambda form: SetTrapOf(form.text("colour"), _trap_mm(form)),
    "set-key": lambda form: SetKey(form.text("colour")),
    "set-edge-trap": lambda form: SetEdgeTrap(form.place("at"), _trap_mm(form), form.yes("everywhere")),
    "set-finish": _finish,
    "set-take": _take,
    "set-mix-from": lambda form: SetMixFrom(form.text("colour"), _names(form, "pigment")),
    "set-pigments": lambda form: SetPigments(_names(form, "pigment")),
    "set-face-method": _face_method,
    "set-router-bits": _router_bits,
    "set-face-router": _face_router,
    "set-palette": _palette,
    "set-sharing": _sharing,
    "put-board": _board,
    "drop-board": lambda form: DropBoard(form.text("name")),
}
"""The acts by the names that pages give them."""


def read_act(fields: Sequence[tuple[str, str]]) -> Act:
    """The act that a form asks for. Raises SettingsError with one plain sentence."""
    form = Form(fields)
    read = _ACTS.get(form.text("act"))
    if read is None:
        raise SettingsError(words.TEXTS["not_an_act"])
    return read(form)

"""The decisions' own rules: defaults that they allow, and values that nobody changes by accident."""

import typing
from typing import Any

import pytest
from pydantic import BaseModel, ValidationError

from blockwright.model.settings import (
    USUAL_STOCK,
    BlocksTable,
    CuttingTable,
    DesignTable,
    Drop,
    FaceMethod,
    NameColour,
    PrintTable,
    ProofTable,
    RouterTable,
    SeparationTable,
    Settings,
    Stock,
)

SETTINGS = Settings(print=PrintTable(width_mm=360.0))


def _models(model: type[BaseModel]) -> set[type[BaseModel]]:
    found = {model}
    for field in model.model_fields.values():
        for inner in (field.annotation, *typing.get_args(field.annotation)):
            if isinstance(inner, type) and issubclass(inner, BaseModel):
                found |= _models(inner)
    return found


MODELS = sorted(_models(Settings), key=lambda m: m.__name__)


def test_the_defaults_are_allowed() -> None:
    """Defaults are not checked by themselves when a table is made: so they are given as values here."""
    for table in (DesignTable, SeparationTable, BlocksTable, CuttingTable, ProofTable):
        given = {name: field.get_default() for name, field in table.model_fields.items()}
        assert table(**given) == table()
    for name in ("title", "picture", "paper"):
        PrintTable(width_mm=360.0, **{name: PrintTable.model_fields[name].get_default()})


def test_only_the_width_has_to_be_given() -> None:
    needed = [
        f"{table}.{name}"
        for table in Settings.model_fields
        for name, field in type(getattr(SETTINGS, table)).model_fields.items()
        if field.is_required()
    ]
    assert needed == ["print.width_mm"]


@pytest.mark.parametrize("model", MODELS, ids=lambda m: m.__name__)
def test_tables_are_frozen_and_strict(model: type[BaseModel]) -> None:
    config = model.model_config
    assert config["frozen"] is True
    assert config["strict"] is True
    assert config["extra"] == "forbid"
    assert config["allow_inf_nan"] is False
    assert model.__doc__


def test_nothing_is_changed_in_place() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        SETTINGS.print.width_mm = 100.0  # type: ignore[misc]
    with pytest.raises(ValidationError, match="frozen"):
        SETTINGS.design = DesignTable()  # type: ignore[misc]
    assert hash(SETTINGS) == hash(Settings(print=PrintTable(width_mm=360.0)))


def test_every_number_has_a_range() -> None:
    """A length without a largest value would let a slip of the finger make a block of ten metres."""
    for model in MODELS:
        for name, field in model.model_fields.items():
            kinds = {field.annotation, *typing.get_args(field.annotation)}
            if kinds & {int, float} and typing.get_origin(field.annotation) is not tuple:
                bounds = {
                    kind for each in field.metadata for kind in ("ge", "gt", "le") if hasattr(each, kind)
                }
                assert "le" in bounds, f"{model.__name__}.{name}"
                assert bounds & {"ge", "gt"}, f"{model.__name__}.{name}"


@pytest.mark.parametrize(
    "text", ["a\nb", "a\rb", "\x00", "a\tb", "\x7f", "\u0085", "\u2028", "\u2029", "\ud800"]
)
def test_names_stay_on_one_line(text: str) -> None:
    for make in (
        lambda: PrintTable(width_mm=360.0, title=text),
        lambda: NameColour(at=(1.0, 1.0), name=text),
        lambda: SeparationTable(order=(text,)),
        lambda: Stock(name="x", wood=text, width_mm=300.0, height_mm=300.0, thickness_mm=12.0),
    ):
        with pytest.raises(ValidationError):
            make()


@pytest.mark.parametrize(
    "text", ["Mühle bei Ebbe", "潮の水車", "é", "a “quoted” name", "#b4935a", "🌊", "\u200d"]
)
def test_names_may_be_in_any_script(text: str) -> None:
    assert NameColour(at=(1.0, 1.0), name=text).name == text


@pytest.mark.parametrize(
    "bad", [(1.0,), (1.0, 2.0, 3.0), (float("nan"), 1.0), (float("inf"), 1.0), ("1", "2"), (True, 1.0)]
)
def test_a_place_is_two_ordinary_numbers(bad: Any) -> None:
    with pytest.raises(ValidationError):
        Drop(at=bad)


def test_the_usual_boards_run_from_small_to_large() -> None:
    areas = [board.width_mm * board.height_mm for board in USUAL_STOCK]
    assert areas == sorted(areas)
    assert len({board.name for board in USUAL_STOCK}) == len(USUAL_STOCK)


def test_what_is_said_of_a_face_stands_before_what_holds_for_all() -> None:
    table = CuttingTable(
        method="hand",
        face=(
            FaceMethod(face="A front", method="router", machine="small"),
            FaceMethod(face="B front", method="stencil"),
            FaceMethod(face="A front", bits=("3 mm flat",), quarter_turn=False),
            FaceMethod(face="A front", machine="large"),
        ),
        router=RouterTable(machine="any", bits=("6 mm flat",), quarter_turn=True, wall_deg=65.0),
    )
    own = table.for_face("A front")
    assert (own.method, own.router.machine, own.router.bits) == ("router", "large", ("3 mm flat",))
    assert (own.router.quarter_turn, own.router.wall_deg) == (False, 65.0)
    other = table.for_face("B front")
    assert (other.method, other.router) == ("stencil", table.router)
    assert table.for_face("C front").router == table.router
    assert table.said_at("A front", "bits") == "[[cutting.face]] of A front, bits,"
    assert table.said_at("B front", "bits") == "[cutting.router] bits"

"""The stage of the inks as a step of the print folder."""

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter

from blockwright.folder import Document, Kept, Step
from blockwright.hashing import make_key
from blockwright.model.design import Design
from blockwright.model.inks import PrintInks, Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import Settings
from blockwright.steps import version_of
from blockwright.telling import tell_inks

if TYPE_CHECKING:
    from blockwright.documents import InkCards


def inks_step(
    design: Kept[Design], separation: Kept[Separation], shelf: Shelf, settings: Settings
) -> Step[PrintInks]:
    """From impressions to what each is printed with, from what is on the shelf."""

    def work(_: Path) -> tuple[PrintInks, dict[str, Any]]:
        from blockwright.inks import ink_print

        inks = ink_print(design.value, separation.value, shelf, settings.inks)
        return inks, tell_inks(inks)

    def documents(inks: PrintInks) -> list[Document]:
        from blockwright.documents import InkCards

        title = settings.print.title or "Untitled print"
        cards = InkCards(title, separation.value.inked, inks.inks, settings.inks.sheets)
        size = "Letter" if settings.cutting.paper == "Letter" else "A4"
        drawn = make_key(key, title, size)
        return [
            Document(("cards.pdf",), drawn, partial(_draw_cards, cards=cards, paper=size), 0),
            Document(("recipes.json", "recipes.csv"), key, partial(_write_recipes, inks=inks), 0),
        ]

    key = make_key(
        version_of("inks", "ink_steps.py", "documents", "data"),
        design.value_hash,
        separation.value_hash,
        TypeAdapter(Shelf).dump_python(shelf, mode="json"),
        settings.inks.model_dump(mode="json"),
    )
    return Step("inks", PrintInks, key, work, documents)


def _draw_cards(into: Path, *, cards: "InkCards", paper: str) -> None:
    from blockwright.documents import write_ink_cards
    from blockwright.documents.paper import SHEETS_MM

    write_ink_cards(into / "cards.pdf", cards, size_mm=SHEETS_MM[paper])


def _write_recipes(into: Path, *, inks: PrintInks) -> None:
    from blockwright.documents.recipe_tables import write_recipe_csv, write_recipe_json

    write_recipe_json(into / "recipes.json", tell_inks(inks)["inks"])
    write_recipe_csv(into / "recipes.csv", inks)

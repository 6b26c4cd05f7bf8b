"""The stage of the impressions as a step of the print folder."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import TypeAdapter

from blockwright.folder import SKETCH, Document, Kept, Step
from blockwright.hashing import make_key
from blockwright.leaf_steps import leaf_documents
from blockwright.model.design import Design
from blockwright.model.inks import Shelf
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import Settings
from blockwright.model.units import Region
from blockwright.steps import PICTURE_DPI, PICTURES, points_in, version_of
from blockwright.telling import tell_gradations, tell_separation

if TYPE_CHECKING:
    from blockwright.separation import KnownPlans

_SEARCH_KEYS = {"mix", "most_pigments", "least_paste_percent", "pigments", "take", "mix_from"}
"""Settings of the inks that a search of overprints depends on."""

PLANS = "plans.json"
"""The plans that a search found, beside the stage's value, for the next sketch to go on from."""

AREAS = "areas.bin"
"""What the areas were drawn from and by, beside them, for the next run to draw only what an edit touches."""


def separation_step(design: Kept[Design], shelf: Shelf, settings: Settings) -> Step[Separation]:
    """From shapes to impressions; what is on the shelf counts only where overprints are searched."""
    return _step(design, shelf, settings, known=())


def separation_sketch_step(
    design: Kept[Design], shelf: Shelf, settings: Settings, folders: Sequence[Path]
) -> Step[Separation]:
    """The same without waiting for a search: with the overprints that were found for other colours.

    They are looked for in ``folders``, of this stage from before; where none of them serve, it is searched.
    A key of its own keeps it from being taken for the stage. Where nothing is searched it is the stage.
    """
    if settings.separation.blocks != "fewest":
        return separation_step(design, shelf, settings)
    step = _step(design, shelf, settings, known=folders)
    return replace(step, key=make_key("sketch", step.key))


def _step(
    design: Kept[Design], shelf: Shelf, settings: Settings, *, known: Sequence[Path]
) -> Step[Separation]:
    version = version_of("separation", "proof", "separation_steps.py", "leaf_steps.py", *PICTURES)

    def work(into: Path) -> tuple[Separation, dict[str, Any]]:
        from blockwright.colour import passes_on_paper
        from blockwright.separation import Notebook, Sketchbook, separate

        notebook = Notebook(version, partial(_pages_beside, design.folder))
        book = Sketchbook(next((plans for folder in known if (plans := _plans_in(folder))), None))
        with notebook.open():
            separation = separate(
                design.value,
                settings.separation,
                inks=settings.inks,
                shelf=shelf,
                sheets=settings.inks.sheets,
                book=book,
            )
        (into / AREAS).write_bytes(notebook.page())
        if book.kept is not None:
            (into / PLANS).write_bytes(TypeAdapter(type(book.kept)).dump_json(book.kept))
        paper = design.value.paper_hex
        passes = [
            [] if each.ink is None else passes_on_paper(each.ink.k, each.ink.s, paper)
            for each in separation.impressions
        ]
        told = tell_separation(separation, passes, tell_gradations(separation, design.value))
        return separation, told

    def documents(separation: Separation) -> list[Document]:
        image = replace(design.value, palette=(), shapes=(), findings=())
        leaves = separation.leaves
        return [
            *_curve(separation, key, settings.separation.worst_delta_e00),
            *(
                Document(
                    (f"impression-{each.number:02d}.png",),
                    # The number is in the file's name; on the picture only ink and area are seen.
                    make_key(
                        version,
                        (image.width_mm, image.height_mm, image.paper_hex),
                        (each.ink and (each.ink.k, each.ink.s, each.passes), each.kind, each.side),
                        (each.srgb_hex, each.area.wkb_hex),
                        None if each.gradation is None else asdict(each.gradation),
                        [leaf.wkb_hex for leaf in leaves.get(each.number, ())],
                    ),
                    partial(
                        _draw_alone,
                        image=image,
                        impression=replace(each, shapes=()),
                        leaves=leaves.get(each.number, ()),
                    ),
                    points_in(each.area),
                )
                for each in separation.impressions
            ),
            *leaf_documents(separation.layings, design.value, settings, version_of),
        ]

    at_hand: tuple[Any, ...] = ()
    if settings.separation.blocks == "fewest":
        told = TypeAdapter(Shelf).dump_python(shelf, mode="json")
        at_hand = (told, settings.inks.model_dump(mode="json", include=_SEARCH_KEYS))
    decided = settings.separation.model_dump(mode="json")
    # How many sheets there are matters to leaf alone.
    leaf_sheets = settings.inks.sheets if settings.separation.leaf else None
    key = make_key(version, design.value_hash, decided, leaf_sheets, *at_hand)
    return Step("separation", Separation, key, work, documents)


def _plans_in(folder: Path) -> "KnownPlans | None":
    """The plans that a stage's folder keeps; None where there are none, or they are not whole."""
    from blockwright.separation import KnownPlans

    try:
        return TypeAdapter(KnownPlans).validate_json((folder / PLANS).read_bytes())
    except (OSError, ValueError):
        return None


def _pages_beside(design: Path) -> list[bytes]:
    """What the areas of this print were drawn from before, in earlier runs and sketches."""
    out = design.parent.parent if design.parent.name == SKETCH else design.parent
    pages = []
    for folder in (out, out / SKETCH):
        with suppress(OSError):
            pages.append((folder / "separation" / AREAS).read_bytes())
    return pages


def _curve(separation: Separation, key: str, limit_delta_e00: float) -> list[Document]:
    """The drawing of blocks against colour error, where overprints were searched."""
    from blockwright.documents.curve_svg import CURVE, write_curve

    if separation.overprints is None:
        return []
    draw = partial(write_curve, found=separation.overprints, limit_delta_e00=limit_delta_e00)
    return [Document((CURVE,), key, draw, 0)]


def _draw_alone(into: Path, *, image: Design, impression: Impression, leaves: Sequence[Region]) -> None:
    from blockwright.documents.png import write_png
    from blockwright.proof import impression_alone

    picture = impression_alone(image, impression, dpi=PICTURE_DPI, leaves=leaves)
    write_png(into / f"impression-{impression.number:02d}.png", picture, dpi=PICTURE_DPI)

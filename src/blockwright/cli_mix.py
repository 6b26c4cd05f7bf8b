"""The command ``mix``: which pigments, how much paste and how many passes make a wanted colour."""

from collections.abc import Iterable, Iterator
from typing import Annotated, Any

import typer

from blockwright.cli_saying import show
from blockwright.model.errors import SettingsError

SEEN_DELTA_E00 = 1.0
"""A difference under this (CIEDE2000) is not seen side by side. [CP]"""

_LITERATURE = (
    "{} known from the literature, which gives hue trends, not the strength of the paint on "
    "your table. Mix a little, print a swatch, and let --correct tell what to add."
)

_MIXTURES = "Mixtures need test mixes; a film thicker or thinner by a tenth moves a print by 1 to 3."


def mix(
    target: Annotated[
        str,
        typer.Option(
            "--target",
            metavar="COLOUR",
            help="#rrggbb, lab(L, a, b), or FOLDER:NAME or FOLDER:X,Y for a colour of a print, "
            "by its name or by a place in mm.",
        ),
    ],
    pigments: Annotated[
        list[str] | None,
        typer.Option(
            "--pigments",
            metavar="NAME",
            help="Mix from these only, by name or Colour Index name; may be repeated, or commas between.",
        ),
    ] = None,
    most: Annotated[
        int, typer.Option("--most", metavar="N", help="At most so many pigments in a recipe, 1 to 4.")
    ] = 3,
    passes: Annotated[
        int | None,
        typer.Option("--passes", metavar="N", help="Passes, 1 to 4; left out, as few as will do."),
    ] = None,
    paper: Annotated[
        str | None,
        typer.Option(
            "--paper", metavar="COLOUR", help="The paper's colour; left out, the print's own or #f6efdf."
        ),
    ] = None,
    over: Annotated[
        str | None,
        typer.Option(
            "--over",
            metavar="COLOUR_OR_INK",
            help="What lies beneath instead of bare paper: a colour, or one pass of an ink of the shelf.",
        ),
    ] = None,
    batch_g: Annotated[
        float | None,
        typer.Option(
            "--batch-g", metavar="G", help="Grams of ink to mix; left out, 40 or what an edition takes."
        ),
    ] = None,
    area_cm2: Annotated[
        float | None,
        typer.Option(
            "--area-cm2",
            metavar="CM2",
            help="Mix for an edition: the area printed on a sheet. Needs --sheets.",
        ),
    ] = None,
    sheets: Annotated[
        int | None, typer.Option("--sheets", metavar="N", help="Mix for an edition: sheets, spoilt ones too.")
    ] = None,
    coverage_percent: Annotated[
        float,
        typer.Option(
            "--coverage-percent", metavar="P", help="How much of the area takes ink; less under a gradation."
        ),
    ] = 100.0,
    laydown_g_per_m2: Annotated[
        float,
        typer.Option(
            "--laydown-g-per-m2", metavar="G", help="Wet ink of one pass; swatch bowl finds it by weighing."
        ),
    ] = 12.0,
    reserve_percent: Annotated[
        float,
        typer.Option(
            "--reserve-percent", metavar="P", help="Mixed beyond what is printed: bowl, brush, proofs."
        ),
    ] = 20.0,
    step_g: Annotated[
        float, typer.Option("--step-g", metavar="G", help="What the scale tells apart, g.")
    ] = 0.1,
    correct: Annotated[
        str | None,
        typer.Option(
            "--correct",
            metavar="POT",
            help="What is in a pot that came out otherwise, NAME=GRAMS with commas between, paste too: "
            "tells what to add. Needs --swatch and --passes.",
        ),
    ] = None,
    swatch: Annotated[
        str | None,
        typer.Option("--swatch", metavar="COLOUR", help="The colour of the pot's swatch in --passes passes."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")] = False,
) -> int:
    """Find what to mix for a colour: at most three pigments, paste, passes; how near, and how sure."""
    from blockwright import mixing

    if (correct is None) != (swatch is None) or (correct is not None and passes is None):
        raise SettingsError(
            "A correction needs --correct with what is in the pot, --swatch with its colour, and --passes."
        )
    if (area_cm2 is None) != (sheets is None):
        raise SettingsError("An edition needs --area-cm2, the area printed on a sheet, and --sheets.")
    edition = None
    if area_cm2 is not None and sheets is not None:
        if batch_g is not None or correct is not None:
            raise SettingsError(
                "--area-cm2 and --sheets tell how much is mixed; leave --batch-g and --correct out."
            )
        if not 0.0 < coverage_percent <= 100.0:
            raise SettingsError(f"--coverage-percent is {coverage_percent:g}; it is above 0 and at most 100.")
        edition = mixing.Edition(
            100.0 * area_cm2, sheets, coverage_percent / 100.0, laydown_g_per_m2, reserve_percent / 100.0
        )
    goal = mixing.read_target(target)
    chosen = mixing.chosen_pigments(pigments or ())
    ground = mixing.ground_of(paper or goal.paper_hex or mixing.PAPER, over)
    if correct is not None and swatch is not None and passes is not None:
        seen = mixing.read_swatch(swatch)
        told = mixing.correct(
            goal, mixing.read_pot(correct), seen, chosen, ground, passes=passes, step_g=step_g
        )
        lines = list(_correction_lines(told))
    else:
        told = mixing.mix(
            goal,
            chosen,
            ground,
            passes=passes,
            most_pigments=most,
            batch_g=batch_g,
            step_g=step_g,
            edition=edition,
        )
        lines = list(_mix_lines(told))
    show(told, as_json, lines)
    return 0


def _mix_lines(told: dict[str, Any]) -> Iterator[str]:
    yield _wanted_line(told["target"])
    if told["bare_delta_e00"] < SEEN_DELTA_E00:
        bare = told["bare_delta_e00"]
        yield f"What lies beneath is {bare:.1f} away, which is not seen: print nothing here."
        return
    for near in told["shelf"]:
        yield (
            f"You have one within {near['delta_e00']:.1f}: No. {near['number']}, {near['name']}, "
            f"in {_passes(near['passes'])}, ± {near['uncertainty_delta_e00']:.0f}."
        )
    if not told["reachable"]:
        nearest = told["nearest"]
        yield (
            f"These pigments do not reach it here: the nearest is {nearest['hex']}, "
            f"{nearest['delta_e00']:.1f} away (CIEDE2000)."
        )
    for number, recipe in enumerate(told["recipes"], start=1):
        yield ""
        yield from _recipe_lines(number, recipe)
    yield ""
    if told["other_lights_guessed"]:
        yield "Only the colour wanted is known, not its spectrum: differences under other lights are a guess."
    yield from _caution_lines(told["cautions"])
    if guessed := told["from_literature"]:
        names = guessed[0] if len(guessed) == 1 else f"{', '.join(guessed[:-1])} and {guessed[-1]}"
        yield _LITERATURE.format(f"{names[:1].upper()}{names[1:]} {'is' if len(guessed) == 1 else 'are'}")
    yield _MIXTURES


def _recipe_lines(number: int, recipe: dict[str, Any]) -> Iterator[str]:
    batch = recipe["batch"]
    match = "matches" if recipe["delta_e00"] < SEEN_DELTA_E00 else f"{recipe['delta_e00']:.1f} away"
    yield (
        f"{number}. In {_passes(recipe['passes'])}: {recipe['predicted_hex']}, {match} in daylight, "
        f"{recipe['worst_light_delta_e00']:.1f} away at worst in lamp or shop light; "
        f"true to about ± {recipe['uncertainty_delta_e00']:.0f}."
    )
    if taken := recipe["edition"]:
        yield (
            f"   The edition takes {taken['printed_g']:.1f} g ({taken['printed_ml']:.1f} ml) of it, with the "
            f"reserve {taken['needed_g']:.1f} g ({taken['needed_ml']:.1f} ml)."
        )
        if taken["needed_g"] < taken["least_g"]:
            yield f"   Less than {taken['least_g']:g} g, a small bowl, is never mixed."
    digits = _digits(each["mass_g"] for each in batch["components"])
    for each in batch["components"]:
        stock = f", of a stock of 1 g with {each['thinned'] - 1} g of paste" if each["thinned"] > 1 else ""
        yield f"   {_amount(each['mass_g'], each['volume_ml'], digits)}  {each['name']}{stock}"
    moved = batch["rounding_delta_e00"]
    total = _amount(batch["total_g"], batch["total_ml"], digits)
    yield f"   {total}  in all; rounding moves the colour by {moved:.1f}"
    for name in batch["too_small"]:
        yield f"   So little {name} is hard to weigh: mix a larger batch."
    if whole := recipe["whole_parts"]:
        names = [each["name"] for each in recipe["components"]]
        spoons = " : ".join(str(part) for part in whole["parts"])
        moved = whole["rounding_delta_e00"]
        yield f"   By volume {spoons} ({', '.join(names)}), which moves it by {moved:.1f}"


def _correction_lines(told: dict[str, Any]) -> Iterator[str]:
    found = told["correction"]
    yield _wanted_line(told["target"])
    if found["near_enough"]:
        yield f"The swatch is {found['before_delta_e00']:.1f} away, which is not seen: add nothing."
        return
    if not found["add"]:
        yield (
            f"The swatch is {found['before_delta_e00']:.1f} away, and nothing that can be added to a pot of "
            "up to three times its size brings it nearer; mix anew."
        )
        return
    yield f"The swatch is {found['before_delta_e00']:.1f} away. Add:"
    digits = _digits(each["mass_g"] for each in found["add"])
    for each in found["add"]:
        yield f"   {_amount(each['mass_g'], each['volume_ml'], digits)}  {each['name']}"
    yield (
        f"Then the pot holds {found['total_g']:.1f} g ({found['total_ml']:.1f} ml) and should print "
        f"{found['predicted_hex']}, {found['delta_e00']:.1f} away."
    )
    for each in found["strengths"]:
        yield f"{each['name']} seems {each['factor']:.2f} times as strong as was thought."
    yield from _caution_lines(told["cautions"])
    yield "Add half of it first, print another swatch, and correct again: what is in a pot stays in it."


def _wanted_line(target: dict[str, Any]) -> str:
    lightness, a, b = target["lab"]
    return f"Wanted: {target['name']}, {target['hex']}, lab({lightness:.1f}, {a:.1f}, {b:.1f})."


def _caution_lines(cautions: list[dict[str, str]]) -> Iterator[str]:
    for each in cautions:
        yield f"Caution: {each['name']}: {each['hazard']}."


def _passes(count: int) -> str:
    return "1 pass" if count == 1 else f"{count} passes"


def _amount(mass_g: float, volume_ml: float, digits: int) -> str:
    """A weight, and the volume that it is: to a tenth, small ones to a hundredth as a syringe tells."""
    volume = f"{volume_ml:.{2 if volume_ml < 1.0 else 1}f}"
    return f"{mass_g:{6 + digits}.{digits}f} g {volume:>7} ml"


def _digits(masses_g: Iterable[float]) -> int:
    """To a tenth of a gram; to a hundredth where the scale shows it."""
    return 1 if all(abs(10.0 * mass - round(10.0 * mass)) < 1e-6 for mass in masses_g) else 2

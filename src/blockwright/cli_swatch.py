"""The commands about swatches: each reads its words and calls one function of :mod:`blockwright.swatches`."""

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypedDict

import typer

from blockwright.cli_saying import AsJson, Studio, count, show
from blockwright.model.errors import SettingsError

if TYPE_CHECKING:
    from blockwright.charts import Chart
    from blockwright.keeping import KeepAs, Kept, NewAs
    from blockwright.ledger import Ledger


class _Ways(TypedDict):
    keep_as: "dict[str, KeepAs]"
    new_as: "NewAs"


swatch_app = typer.Typer(
    no_args_is_help=False,
    add_completion=False,
    rich_markup_mode=None,
    help="Make inks known: draw a calibration sheet, read its scan, read measured tables.",
)

Keep = Annotated[bool, typer.Option("--keep", help="Keep the inks that were found on the studio's shelf.")]
KeepAsWords = Annotated[
    list[str] | None,
    typer.Option(
        "--as",
        metavar="NAME=WHAT",
        help="With --keep: keep the ink NAME as 'pigment', as 'new ink' (a mixed ink without a recipe), or "
        "as the mixed ink of a number, '#12'; may be repeated. Left out, it is what bears its name there.",
    ),
]
NewAsWord = Annotated[
    str,
    typer.Option(
        "--new-as",
        metavar="WHAT",
        help="With --keep: what bears no name of the shelf is kept as 'pigment' or as 'new ink'.",
    ),
]
SheetFile = Annotated[
    Path, typer.Option("--sheet", metavar="FILE", help="The file that was written beside the sheet's PDF.")
]


@swatch_app.command("sheet", short_help="Draw a calibration sheet to print inks on.")
def sheet(
    out: Annotated[
        Path, typer.Argument(metavar="OUT.pdf", help="The PDF; a JSON file is written beside it.")
    ],
    ink: Annotated[
        list[str],
        typer.Option(
            "--ink",
            metavar="NAME",
            help="An ink to print, or '#12' for the mixed ink of that number; may be repeated.",
        ),
    ],
    mix: Annotated[
        list[str] | None,
        typer.Option(
            "--mix",
            metavar="A+B",
            help="A mixture of two of the inks, half and half, or with shares in percent: "
            "'rose 30 + blue 70'; may be repeated.",
        ),
    ] = None,
    paper: Annotated[
        str, typer.Option("--paper", metavar="SIZE", help="A4, A3, Letter, or width x height in mm: 250x353.")
    ] = "A4",
    passes: Annotated[
        int, typer.Option("--passes", metavar="N", help="Patches of one pass up to this many, 1 to 3.")
    ] = 3,
    no_black: Annotated[
        bool, typer.Option("--no-black", help="No patches over black; scattering is then a guess.")
    ] = False,
    print_black: Annotated[
        bool, typer.Option("--print-black", help="The black ground comes out of the office printer.")
    ] = False,
    where: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Draw a calibration sheet at true size: print the inks into its boxes, then scan it."""
    from blockwright import swatches
    from blockwright.paints import names_on_sheet

    inks, mixes = names_on_sheet(ink, mix or [], where)
    drawn = swatches.draw_sheet(
        out,
        inks=inks,
        mixes=mixes,
        paper=paper,
        passes=passes,
        over_black=not no_black,
        print_black=print_black,
    )
    rows = len(drawn.pages[0].plan.rows)
    lines = [
        f"{drawn.pdf}: {count(rows, 'row')} on {count(len(drawn.pages), 'page')}. Print it at 100 %.",
        f"Keep {drawn.description}: the scan is read with it.",
    ]
    show(swatches.tell_drawn(drawn), as_json, lines)


@swatch_app.command("read", short_help="Read scans of a calibration sheet.")
def read(
    scan: Annotated[
        list[Path], typer.Argument(metavar="SCAN...", help="A scan or photo of each page of the sheet.")
    ],
    sheet_file: SheetFile,
    paper_is: Annotated[
        str | None,
        typer.Option(
            "--paper-is", metavar="COLOUR", help="The paper's measured colour; #rrggbb or lab(L, a, b)."
        ),
    ] = None,
    chart: Annotated[
        Path | None,
        typer.Option("--chart", metavar="TABLE", help="Measured values of a reference chart."),
    ] = None,
    chart_rgb: Annotated[
        Path | None,
        typer.Option("--chart-rgb", metavar="TABLE", help="The chart as scanned: RGB_R, RGB_G, RGB_B."),
    ] = None,
    chart_scan: Annotated[
        Path | None,
        typer.Option("--chart-scan", metavar="SCAN", help="Or a scan of the chart, made like the others."),
    ] = None,
    chart_corners: Annotated[
        str | None,
        typer.Option(
            "--chart-corners",
            metavar="PLACES",
            help="Its corners in pixels, clockwise from the upper left: '10,10 900,10 900,600 10,600'; "
            "those of the scan, if not given.",
        ),
    ] = None,
    chart_grid: Annotated[
        str | None, typer.Option("--chart-grid", metavar="CxR", help="Its columns and rows: 6x4.")
    ] = None,
    keep: Keep = False,
    keep_as: KeepAsWords = None,
    new_as: NewAsWord = "pigment",
    where: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Read scans or photos of a calibration sheet: the colour of every patch, and the inks they tell of."""
    from blockwright import swatches

    ways = _ways(keep, keep_as or [], new_as)
    reference = _chart(chart, chart_rgb, chart_scan, chart_corners, chart_grid)
    done = swatches.read_scans(scan, sheet_file, paper_is=paper_is, chart=reference)
    told = swatches.tell_read(done)
    lines = [*_page_lines(told), *_ink_lines(told), *told["notes"]]
    if paper_is is None:
        lines.append("Measured, the paper's colour is given with --paper-is.")
    if keep:
        from blockwright.paints import keep_read

        lines += _kept(told, keep_read(_opened(where), done, **ways))
    show(told, as_json, lines)


@swatch_app.command("import", short_help="Read a spectrophotometer's table.")
def import_(
    table: Annotated[
        Path, typer.Argument(metavar="TABLE", help="A text table of ISO 28178 (CGATS.17) or a CSV file.")
    ],
    sheet_file: Annotated[
        Path | None,
        typer.Option(
            "--sheet",
            metavar="FILE",
            help="The file beside a calibration sheet, if the samples are its patches, named by their codes.",
        ),
    ] = None,
    keep: Keep = False,
    keep_as: KeepAsWords = None,
    new_as: NewAsWord = "pigment",
    where: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Read a table of measured samples; with a calibration sheet, find the inks that they tell of."""
    from blockwright import swatches

    ways = _ways(keep, keep_as or [], new_as)
    done = swatches.import_table(table, sheet_file)
    told = swatches.tell_imported(done)
    samples = [
        f"{sample['id']}{'  ' + sample['name'] if sample['name'] not in {'', sample['id']} else ''}  "
        f"{sample['hex']}  {_lab(sample['lab'])}"
        for sample in told["samples"]
    ]
    lines = [*(_ink_lines(told) if sheet_file is not None else samples), *told["notes"]]
    if keep:
        from blockwright.paints import keep_imported

        lines += _kept(told, keep_imported(_opened(where), done, table, **ways))
    show(told, as_json, lines)


@swatch_app.command("bowl", short_help="How much ink a pass takes, by weighing the bowl.")
def bowl(
    before: Annotated[
        float, typer.Option("--before", metavar="G", help="The bowl with ink and brush before, g.")
    ],
    after: Annotated[float, typer.Option("--after", metavar="G", help="The same after the pulls, g.")],
    area_cm2: Annotated[
        float,
        typer.Option(
            "--area-cm2", metavar="CM2", help="The area of the impression; it stands on its ink's card."
        ),
    ],
    pulls: Annotated[int, typer.Option("--pulls", metavar="N", help="How many pulls lie between.")] = 10,
    as_json: AsJson = False,
) -> None:
    """Find how much ink one pass takes off the block, from the weight of the bowl before and after."""
    from blockwright import swatches

    found = swatches.weighed_laydown(before, after, pulls=pulls, area_mm2=100.0 * area_cm2)
    lines = [
        f"One pass takes {found:g} g of wet ink to the square metre.",
        f"In print.toml: [inks] laydown_g_per_m2 = {found:g}",
    ]
    show({"laydown_g_per_m2": found}, as_json, lines)


@swatch_app.command("damp", short_help="How colours look on a damp sheet, and when it has dried.")
def damp(
    colour: Annotated[
        list[str], typer.Argument(metavar="COLOUR...", help="Colours, each #rrggbb or lab(L, a, b).")
    ],
    dry: Annotated[
        str | None, typer.Option("--dry", metavar="COLOUR", help="One patch as it was measured dry.")
    ] = None,
    wet: Annotated[
        str | None, typer.Option("--damp", metavar="COLOUR", help="The same patch, measured damp.")
    ] = None,
    wetness: Annotated[
        float | None,
        typer.Option(
            "--wetness", metavar="W", help="Or how wet the sheet is: 0 dry, 1 a full film of water."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Tell how colours look on a damp sheet, and what a colour that is seen there dries to."""
    from dataclasses import asdict

    from blockwright.damp import damp_colours, measured_wetness

    if (dry is None) != (wet is None) or (dry is not None and wetness is not None):
        raise SettingsError("Give --dry and --damp of one patch, or --wetness, or neither for a full film.")
    if dry is not None and wet is not None:
        wetness = measured_wetness(dry, wet)
    elif wetness is None:
        wetness = 1.0
    found = damp_colours(colour, wetness=wetness)
    lines = [
        f"The sheet is {wetness:g} wet: 0 is dry, 1 a full film of water, the most there can be.",
        *(
            f"{each.srgb_hex} looks {each.while_damp_hex} while damp; what looks {each.srgb_hex} damp "
            f"dries to {each.when_dry_hex}."
            for each in found
        ),
    ]
    show({"wetness": wetness, "colours": [asdict(each) for each in found]}, as_json, lines)


def _opened(where: str | None) -> "Ledger":
    from blockwright.studio import open_studio

    return open_studio(where)


def _ways(keep: bool, keep_as: Sequence[str], new_as: str) -> "_Ways":
    """As what inks are to be kept, from the words."""
    if not keep and (keep_as or new_as != "pigment"):
        raise SettingsError("--as and --new-as say how inks are kept; they go with --keep.")
    if new_as not in ("pigment", "new ink"):
        raise SettingsError(f"--new-as is {new_as!r}; it is 'pigment' or 'new ink'.")
    ways: dict[str, KeepAs] = {}
    for each in keep_as:
        name, _, what = (word.strip() for word in each.rpartition("="))
        number = re.fullmatch(r"#?\s*(\d{1,9})", what)
        if not name or not (number or what in ("pigment", "new ink")):
            raise SettingsError(f"--as is {each!r}; write NAME=pigment, NAME='new ink' or NAME='#12'.")
        if name in ways:
            raise SettingsError(f"--as says twice what {name} is to be kept as.")
        ways[name] = int(number[1]) if number else "pigment" if what == "pigment" else "new ink"
    return {"keep_as": ways, "new_as": "pigment" if new_as == "pigment" else "new ink"}


def _kept(told: dict[str, Any], kept: "Sequence[Kept]") -> Iterator[str]:
    """What became of the inks that are kept: told for programs, and said."""
    from blockwright.keeping import kept_said, tell_kept

    told["kept"] = [each.name for each in kept]
    told["kept_as"] = [tell_kept(each) for each in kept]
    yield f"Kept on the shelf: {', '.join(told['kept'])}. Prints that are mixed from the shelf are made anew."
    yield from (kept_said(each) for each in kept)


def _chart(
    measured: Path | None, rgb: Path | None, scan: Path | None, corners: str | None, grid: str | None
) -> "Chart | None":
    """The reference chart that the words describe."""
    from blockwright.charts import Chart, read_columns_and_rows, read_corners

    if measured is None:
        if rgb or scan or corners or grid:
            raise SettingsError("--chart with the chart's measured values is needed besides its scan.")
        return None
    if rgb is not None:
        return Chart(measured, scanned=rgb)
    if scan is None or grid is None:
        raise SettingsError("--chart needs --chart-rgb, or --chart-scan with --chart-grid.")
    columns, rows = read_columns_and_rows(grid, name="--chart-grid")
    places = () if corners is None else read_corners(corners, name="--chart-corners")
    return Chart(measured, picture=scan, corners_px=places, columns=columns, rows=rows)


def _lab(lab: Sequence[float]) -> str:
    return "Lab " + ", ".join(f"{value:.1f}" for value in lab)


def _page_lines(told: dict[str, Any]) -> Iterator[str]:
    for page in told["pages"]:
        yield (
            f"{page['scan']}: sheet {page['number']}, page {page['page']}; "
            f"{count(len(page['patches']), 'patch', 'patches')} read at {page['pixels_per_mm']:.0f} pixels "
            f"to the mm, light uneven by {page['light_fall_percent']:.0f} %."
        )
    if scanner := told["scanner"]:
        yield (
            f"Scanner corrected by {scanner['patches']} patches of the chart ({scanner['terms']}): off by "
            f"{scanner['median_delta_e00']:.1f} in the middle, {scanner['p95_delta_e00']:.1f} at the worst "
            f"twentieth, {scanner['max_delta_e00']:.1f} at most (CIEDE2000); before, "
            f"{scanner['before_delta_e00']:.1f} in the middle."
        )


def _ink_lines(told: dict[str, Any]) -> Iterator[str]:
    for ink in told["inks"]:
        passes = ", ".join(f"{each['passes']}: {each['hex']}" for each in ink["passes"])
        later = ", ".join(f"{100.0 * factor:.0f} %" for factor in ink["transfer"])
        ground = "paper and black" if ink["over_black"] else "paper only: its scattering is a guess"
        yield (
            f"{ink['name']} ({ink['origin']}): by passes {passes}; a prediction is off by about "
            f"{ink['uncertainty_delta_e00']:.1f} (CIEDE2000). {count(ink['patches'], 'patch', 'patches')} "
            f"over {ground}; a later pass lays down {later} of the first."
        )
    for mixture in told["mixtures"]:
        parts = " + ".join(f"{part['name']} {100.0 * part['share']:.0f} %" for part in mixture["parts"])
        yield f"{parts}: explained to {mixture['residual_delta_e00']:.1f} (CIEDE2000) by these inks."

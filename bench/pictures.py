"""Report what became of pictures: the demonstration picture, and any that are named.

``python -m bench.pictures [FOLDER_OR_FILES ...]`` prints the tables; ``--json`` prints one JSON object
instead; ``--write FILE`` puts the tables between the two marks in a Markdown page and leaves the rest of the
page as it is; ``--pictures FOLDER`` writes picture and shapes side by side for looking. Named pictures are
taken at ``--dpi`` whatever they say themselves, for most say nothing or what a screen said.
"""

import argparse
import datetime
import json
import sys
from pathlib import Path
from typing import Any

from bench import machine
from bench.child import Ran
from bench.picture_tables import areas_table, edges_table, pictures_table, worst_table
from bench.workshop import Workshop, open_workshop

BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"

_KINDS = {".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff", ".ora", ".svg"}

_DEMO_MM = 360.0
_DEMO_DPI = 300
_DEMO_WANTED = [(150, 0.0), (150, 1.0), (300, 0.0), (300, 1.0), (600, 0.0), (600, 1.0)]
"""Resolution and roughness of the demonstration pictures whose edges are measured."""

_MM_PER_INCH = 25.4


def pictures_in(places: list[Path]) -> list[Path]:
    """The picture files among files and folders, in the order of their names."""
    found: list[Path] = []
    for place in places:
        if place.is_dir():
            found += sorted(each for each in place.iterdir() if each.suffix.lower() in _KINDS)
        else:
            found.append(place)
    return found


class _Report:
    """One run: designs are made in the workshop's folder, figures gathered as plain values."""

    def __init__(self, workshop: Workshop, looking: Path | None, paper_hex: str) -> None:
        self._workshop = workshop
        self._looking = looking
        self._paper_hex = paper_hex

    def _made(self, picture: Path, width_mm: float) -> tuple[Ran, Path]:
        design = self._workshop.folder / f"{picture.name}.design.json"
        ran = self._workshop.step(
            "design_steps.design_picture",
            picture=str(picture),
            width_mm=width_mm,
            keep=str(design),
        )
        return ran, design

    def picture(self, picture: Path, *, name: str, width_mm: float) -> dict[str, Any]:
        """Make a picture's design and measure it from outside."""
        ran, design = self._made(picture, width_mm)
        side_by_side = str(self._looking / f"{name}.side-by-side.png") if self._looking else None
        told = self._workshop.step(
            "picture_steps.examine",
            picture=str(picture),
            design=str(design),
            paper_hex=self._paper_hex,
            side_by_side=side_by_side,
        ).told
        return {
            "name": name,
            "pixels": ran.told["pixels"],
            "seconds": ran.told["read_s"] + ran.told["whole_s"],
            "peak_bytes": ran.told["peak_bytes"],
            **told,
        }

    def demo_edges(self, files: list[Path]) -> list[dict[str, Any]]:
        """Edges and areas of the demonstration pictures against the truth."""
        designs = [str(self._made(file, _DEMO_MM)[1]) for file in files]
        measured = self._workshop.step("picture_steps.examine_demo", designs=designs).told["designs"]
        return [
            {"dpi": dpi, "roughness": roughness, **each}
            for (dpi, roughness), each in zip(_DEMO_WANTED, measured, strict=True)
        ]


def measure(workshop: Workshop, places: list[Path], *, dpi: float, looking: Path | None) -> dict[str, Any]:
    """All figures of the report as plain values."""
    painted = workshop.step(
        "painted.write_demo_pictures", folder=str(workshop.folder), wanted=[list(w) for w in _DEMO_WANTED]
    ).told
    files = [Path(file) for file in painted["files"]]
    report = _Report(workshop, looking, painted["paper_hex"])
    usual = files[_DEMO_WANTED.index((_DEMO_DPI, 1.0))]
    rows = [report.picture(usual, name="the demonstration picture", width_mm=_DEMO_MM)]
    for picture in places:
        size = workshop.step(
            "picture_steps.picture_size", picture=str(picture.resolve()), paper_hex=painted["paper_hex"]
        ).told
        width_mm = size["width_px"] / dpi * _MM_PER_INCH
        rows.append(report.picture(picture.resolve(), name=picture.name, width_mm=width_mm))
    return {"pictures": rows, "demo": report.demo_edges(files), "named_dpi": dpi}


def told_in_markdown(figures: dict[str, Any]) -> str:
    """The tables of the report."""
    usual = next(d for d in figures["demo"] if (d["dpi"], d["roughness"]) == (_DEMO_DPI, 1.0))
    return "\n\n".join(
        [
            f"Measured on {datetime.date.today().isoformat()} by `make report`. "
            + " ".join(machine.describe()),
            "### Pictures",
            f"Named pictures are taken at {figures['named_dpi']:g} dpi. Gap, overlap and area are measured "
            "by laying all polygons over one another (GEOS's overlay) against the frame, not by the "
            "functions that the design stage uses. The colour difference is between the picture's pixels and "
            "the painted shapes. Seconds are reading and designing in a fresh process.",
            pictures_table(figures["pictures"]),
            "### Edges of the demonstration picture",
            _matching(),
            edges_table(figures["demo"]),
            f"Worst places at {_DEMO_DPI} dpi, rough:",
            worst_table(usual["worst"]),
            f"### Areas of the demonstration picture at {_DEMO_DPI} dpi, rough",
            "Each flat colour's true area against the shapes in the found colour nearest to it. A step of a "
            "gradation may be given a flat colour; that area is told apart.",
            areas_table(usual["areas"]),
        ]
    )


def _matching() -> str:
    return (
        "Points are set every pixel along all edges of one side and measured to the nearest point of any "
        "edge of the other side, whatever colours it parts and however far it is; both ways. Left out are "
        "points within 3 px of a true junction of three or more colours, of the frame, or of an area in "
        "which colour runs. Specks are not left out. *Other colours* is the share of points whose nearest "
        "edge parts other colours than theirs does. *Against runs* are true edges between a flat colour and "
        "a gradation, of which only the flat colour counts as theirs. *Junctions* are measured to the "
        "nearest found junction; where edges meet at a sharp angle, the tip between them is thinner than a "
        "pixel and the found junction lies farther back. "
        "*Clean* is antialiased only; *rough* has brush noise and specks. Distances are in pixels."
    )


def put_between_marks(page: str, told: str) -> str:
    """The page with what stands between the marks replaced; marks are added where there are none.

    >>> put_between_marks(f"Mine.\\n\\n{BEGIN}\\nold\\n{END}\\n\\nMine too.\\n", "new").count("Mine")
    2
    """
    if BEGIN in page and END in page:
        before, _, rest = page.partition(BEGIN)
        after = rest.partition(END)[2]
    else:
        before, after = (page.rstrip() + "\n\n" if page.strip() else "# What became of pictures\n\n"), "\n"
    return f"{before}{BEGIN}\n\n{told}\n\n{END}{after}"


def _arguments(words: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m bench.pictures", description=(__doc__ or "").split("\n", maxsplit=1)[0]
    )
    parser.add_argument("places", nargs="*", type=Path, metavar="FOLDER_OR_FILE")
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of tables")
    parser.add_argument("--write", type=Path, metavar="FILE", help="put the tables into this Markdown page")
    parser.add_argument(
        "--pictures", type=Path, metavar="FOLDER", help="write pictures and shapes side by side"
    )
    parser.add_argument("--dpi", type=float, default=300.0, help="resolution of the named pictures (300)")
    return parser.parse_args(words)


def main(words: list[str]) -> int:
    """Measure, print, and write what was asked for."""
    chosen = _arguments(words)
    places = pictures_in(chosen.places)
    missing = [place for place in places if not place.is_file()]
    if missing:
        print(f"There is no picture {missing[0]}.", file=sys.stderr)
        return 2
    looking = chosen.pictures.resolve() if chosen.pictures else None
    if looking is not None:
        looking.mkdir(parents=True, exist_ok=True)
    with open_workshop() as workshop:
        figures = measure(workshop, places, dpi=chosen.dpi, looking=looking)
    told = told_in_markdown(figures)
    if chosen.write is not None:
        page = chosen.write.read_text(encoding="utf-8") if chosen.write.is_file() else ""
        chosen.write.write_text(put_between_marks(page, told), encoding="utf-8")
    print(json.dumps(figures, ensure_ascii=False, indent=1) if chosen.json else told)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

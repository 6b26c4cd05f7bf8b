"""Measure speed and memory, beside general libraries, and write ``docs/benchmarks.md``.

``python -m bench.speed`` runs all of it (about twelve minutes on two cores); ``--only NAME`` one section (may
be repeated), ``--quick`` a smaller set. Only a full run rewrites the page, or ``--write FILE``.
"""

import argparse
import datetime
import sys
from collections.abc import Callable
from pathlib import Path

from bench import machine
from bench.boards import boards_section
from bench.child import ROOT
from bench.figures import Section, rows_table, verdict
from bench.gradations import gradation_section
from bench.inks import ink_section
from bench.leaf import leaf_section
from bench.overprints import overprint_section
from bench.recipes import recipe_section
from bench.router import router_section
from bench.sheets import sheet_section
from bench.speed_app import app_section
from bench.speed_design import large_section, shapes_section
from bench.speed_job import job_section
from bench.speed_parts import parts_section
from bench.workshop import Workshop, open_workshop

PAGE = ROOT / "docs" / "benchmarks.md"

SECTIONS: dict[str, Callable[[Workshop], Section]] = {
    "job": job_section,
    "shapes": shapes_section,
    "large": large_section,
    "parts": parts_section,
    "boards": lambda workshop: boards_section(quick=workshop.quick),
    "app": app_section,
    "inks": lambda _workshop: ink_section(),
    "recipes": lambda _workshop: recipe_section(),
    "overprints": lambda _workshop: overprint_section(),
    "sheets": lambda _workshop: sheet_section(),
    "router": router_section,
    "leaf": lambda workshop: leaf_section(quick=workshop.quick),
    "gradations": lambda _workshop: gradation_section(),
}
"""Sections by name, in the order of the page. The job comes first, for it alone can start with nothing
compiled."""

_LEFT_OUT_OF_QUICK = ("large",)


def page(sections: list[Section], *, seconds: float, quick: bool) -> str:
    """The page in Markdown."""
    lines = [
        "# Benchmarks",
        "",
        f"Written by `make bench` on {datetime.date.today().isoformat()} in {seconds / 60:.1f} minutes"
        + (" (the quick set, smaller pictures)." if quick else "."),
        *machine.describe(),
        "",
        verdict(sections),
        "",
        "Every step ran in a process of its own; its peak is the resident memory that the system saw. "
        "*Cold* is the first call in a fresh process with compiled code on disk, *warm* a later call in the "
        "same process. *Times as fast* is the rival's time over ours: above 1 we are faster.",
        "",
    ]
    for section in sections:
        lines += [f"## {section.title}", ""]
        for sentence in section.lead:
            lines += [sentence, ""]
        lines += [rows_table(section.rows), ""]
        for extra in section.tables:
            lines += [extra, ""]
    return "\n".join(lines)


def _arguments(words: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m bench.speed", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--only", action="append", choices=list(SECTIONS), help="measure this section")
    parser.add_argument("--quick", action="store_true", help="a smaller set, smaller pictures, fewer repeats")
    parser.add_argument("--write", type=Path, help="write the page here, even when not all was measured")
    return parser.parse_args(words)


def main(words: list[str]) -> int:
    """Measure, print, and write the page."""
    chosen = _arguments(words)
    names = chosen.only or [n for n in SECTIONS if not (chosen.quick and n in _LEFT_OUT_OF_QUICK)]
    sections = []
    with open_workshop(quick=chosen.quick) as workshop:
        for name in names:
            workshop.say(f"measuring {name} ...")
            sections.append(SECTIONS[name](workshop))
            print(f"\n{sections[-1].title}\n{rows_table(sections[-1].rows)}", flush=True)
    text = page(sections, seconds=workshop.elapsed_s, quick=chosen.quick)
    target = chosen.write or (PAGE if not chosen.only and not chosen.quick else None)
    if target is not None:
        target.write_text(text, encoding="utf-8")
        workshop.say(f"wrote {target}")
    print("\n" + verdict(sections))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""What is known of a kept calibration sheet besides its scans: its paper as measured, and a reference chart.

Both lie in the sheet's folder. The chart's files are called after what they hold, so that what was read with
them is read anew when they change.
"""

import json
import shutil
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from blockwright.charts import Chart, chart_correction
from blockwright.hashing import file_hash
from blockwright.model.errors import BlockwrightError, FolderError, InkError

FACTS_NAME = "known.json"


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """The paper's measured colour as it was told, and the chart.

    ``called`` are the names that the chart's files came with: of its measured values and of its scan.
    """

    paper: str | None = None
    chart: Chart | None = None
    called: tuple[str, str] = ("", "")


def facts_of(folder: Path) -> SheetFacts:
    """What is known of the sheet in a folder. Raises InkError when it cannot be read."""
    try:
        told = json.loads((folder / FACTS_NAME).read_text(encoding="utf-8"))
        return _read(folder, told)
    except FileNotFoundError:
        return SheetFacts()
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise InkError(
            "What was told of the paper and the chart cannot be read any more; tell it anew."
        ) from error


def _read(folder: Path, told: Any) -> SheetFacts:
    chart, called = None, ("", "")
    if (kept := told["chart"]) is not None:
        corners = tuple((float(x), float(y)) for x, y in kept["corners_px"])
        chart = Chart(
            folder / Path(kept["measured"]).name,
            picture=folder / Path(kept["picture"]).name,
            corners_px=corners,
            columns=int(kept["columns"]),
            rows=int(kept["rows"]),
        )
        called = (str(kept["measured_called"]), str(kept["picture_called"]))
    return SheetFacts(None if told["paper"] is None else str(told["paper"]), chart, called)


def tell_paper(folder: Path, colour: str | None) -> SheetFacts:
    """Keep the paper's measured colour, or that it is not known. Raises BlockwrightError for no colour."""
    from blockwright.swatches import parse_paper_colour

    if colour is not None:
        parse_paper_colour(colour)
    return _keep(folder, replace(_known_or_nothing(folder), paper=colour))


def take_chart(folder: Path, chart: Chart, *, called: tuple[str, str]) -> SheetFacts:
    """Take in a chart, whose files lie elsewhere and are ``called`` so in what is said of them.

    Raises BlockwrightError, one plain sentence, when it cannot be read or does not go together; what was
    known before then stays.
    """
    if chart.picture is None:
        raise InkError("A chart needs a scan.")
    files = (chart.measured, chart.picture)
    try:
        chart_correction(chart)
    except BlockwrightError as error:
        said = str(error)
        for file, name in zip(files, called, strict=True):
            said = said.replace(file.name, name)
        raise type(error)(said) from error
    try:
        measured, picture = (_copied(file, folder) for file in files)
    except OSError as error:
        raise FolderError(f"The chart could not be kept ({error.strerror}).") from error
    kept = replace(chart, measured=measured, picture=picture)
    return _keep(folder, replace(_known_or_nothing(folder), chart=kept, called=called))


def drop_chart(folder: Path) -> SheetFacts:
    """Read the sheet without a chart again."""
    return _keep(folder, replace(_known_or_nothing(folder), chart=None, called=("", "")))


def _known_or_nothing(folder: Path) -> SheetFacts:
    """What is known; what cannot be read any more is told anew, so nothing of it is kept."""
    try:
        return facts_of(folder)
    except InkError:
        return SheetFacts()


def _copied(file: Path, folder: Path) -> Path:
    place = folder / f"chart-{file_hash(file)[:16]}{file.suffix}"
    coming = place.with_name(f".coming-{place.name}")
    try:
        shutil.copyfile(file, coming)
        return coming.replace(place)
    finally:
        coming.unlink(missing_ok=True)


def _keep(folder: Path, facts: SheetFacts) -> SheetFacts:
    chart = facts.chart
    told = {
        "paper": facts.paper,
        "chart": None
        if chart is None or chart.picture is None
        else {
            "measured": chart.measured.name,
            "picture": chart.picture.name,
            "corners_px": [list(place) for place in chart.corners_px],
            "columns": chart.columns,
            "rows": chart.rows,
            "measured_called": facts.called[0],
            "picture_called": facts.called[1],
        },
    }
    coming = folder / f".coming-{FACTS_NAME}"
    try:
        coming.write_text(json.dumps(told, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
        coming.replace(folder / FACTS_NAME)
        used = set() if chart is None or chart.picture is None else {chart.measured, chart.picture}
        for old in set(folder.glob("chart-*")) - used:
            old.unlink(missing_ok=True)
    except OSError as error:
        raise FolderError(f"What is known of the sheet could not be kept ({error.strerror}).") from error
    finally:
        coming.unlink(missing_ok=True)
    return facts

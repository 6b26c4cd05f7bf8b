"""The documentation is held to the program: commands, settings, findings, sources, numbers and links."""

import ast
import importlib
import importlib.util
import re
import shlex
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from PIL import Image
from pydantic import BaseModel
from typer.main import get_command

from blockwright import cli
from blockwright.decisions import parse
from blockwright.model.settings import Settings
from blockwright.project import STAGES

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
SOURCE = ROOT / "src" / "blockwright"
PAGES = sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md")])
HAND_WRITTEN = [page for page in PAGES if page.name not in {"commands.md", "settings.md"}]
COMMANDS: dict[str, Any] = get_command(cli.app).commands  # type: ignore[attr-defined]

LARGEST_PICTURE_BYTES = 400_000
STAGE_SECTIONS = ("What you hand in", "What you get", "What you decide, and where", "Findings")
NEVER_STRINGS_ALONE = ("printer's encyclopaedia", "practitioner's", "printing house", "OSHA", "NIOSH", "IARC")
"""Sources that the code names without a year or a number."""


def page_id(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def unfenced(text: str) -> str:
    return re.sub(r"^```.*?^```$", "", text, flags=re.DOTALL | re.MULTILINE)


def fences(text: str, language: str = "") -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", text, flags=re.DOTALL | re.MULTILINE)


def anchors(text: str) -> set[str]:
    """The anchors that a forge gives to headings."""
    headings = re.findall(r"^#+ (.+)$", unfenced(text), flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


def source_trees() -> Iterator[tuple[Path, ast.Module]]:
    for path in sorted(SOURCE.rglob("*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"documentation_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


# ---- Links and pictures --------------------------------------------------------------------------------


@pytest.mark.parametrize("page", PAGES, ids=page_id)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", unfenced(page.read_text(encoding="utf-8"))):
        if re.match(r"[a-z]+:", target):
            continue
        name, _, anchor = target.partition("#")
        linked = (page.parent / name).resolve() if name else page
        assert linked.exists(), f"{page_id(page)} links to {target}"
        if anchor:
            assert anchor in anchors(linked.read_text(encoding="utf-8")), f"{page_id(page)}: {target}"


def test_every_page_can_be_reached_from_the_index() -> None:
    text = "".join(page.read_text(encoding="utf-8") for page in (DOCS / "index.md", ROOT / "README.md"))
    for page in DOCS.rglob("*.md"):
        if page.name != "index.md":
            assert f"({page.relative_to(DOCS).as_posix()})" in text


@pytest.mark.parametrize("page", PAGES, ids=page_id)
def test_files_that_are_named_exist(page: Path) -> None:
    named = re.findall(r"`((?:src|tests|docs|bench|vendor)/[\w./*-]+)`", page.read_text(encoding="utf-8"))
    for name in named:
        assert list(ROOT.glob(name.rstrip("/"))), f"{page_id(page)} names {name}"


def test_pictures_are_those_that_are_made_and_used(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(DOCS))
    made = set(load(DOCS / "plates.py").PLATES)
    text = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    assert {picture.name for picture in (DOCS / "pictures").iterdir()} == made
    for name in made:
        assert f"pictures/{name})" in text
        assert (DOCS / "pictures" / name).stat().st_size < LARGEST_PICTURE_BYTES
        with Image.open(DOCS / "pictures" / name) as picture:
            assert picture.width == 1400


# ---- Commands and settings -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["commands.md", "settings.md"])
def test_reference_pages_are_as_the_program_says(name: str) -> None:
    page = load(DOCS / "reference.py").PAGES[name]
    assert (DOCS / name).read_text(encoding="utf-8") == page(), "run: python docs/build.py --texts"


def command_lines(text: str) -> Iterator[list[str]]:
    """Every command in fenced blocks and in code spans, as words."""
    spans = re.findall(r"`([^`\n]+)`", unfenced(text))
    lines = [line for block in fences(text) for line in block.splitlines()]
    for line in [*spans, *lines]:
        words = shlex.split(line, comments=True) if re.match(r"(make|\S*blockwright) ", line) else []
        if words and (words[0] == "make" or words[0].rsplit("/", 1)[-1] == "blockwright"):
            yield words


def test_readme_starts_with_the_job_and_two_commands() -> None:
    first, second, *_ = (ROOT / "README.md").read_text(encoding="utf-8").split("\n\n")
    assert first.startswith("blockwright turns")
    assert list(command_lines(second + "\n")) == [["make", "demo"], ["make", "test"]]


@pytest.mark.parametrize("page", HAND_WRITTEN, ids=page_id)
def test_commands_exist(page: Path) -> None:
    targets = re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), flags=re.MULTILINE)
    for words in command_lines(page.read_text(encoding="utf-8")):
        if words[0] == "make":
            assert words[1] in targets, f"{page_id(page)}: {words}"
            continue
        assert words[1] in COMMANDS, f"{page_id(page)}: {words}"
        command = COMMANDS[words[1]]
        for word in words[2:]:
            command = getattr(command, "commands", {}).get(word, command)
        known = {
            option for parameter in command.params for option in (*parameter.opts, *parameter.secondary_opts)
        }
        assert {word for word in words if word.startswith("--")} <= known, f"{page_id(page)}: {words}"


def test_readme_commands_are_read_by_the_command_line() -> None:
    lines = list(command_lines((ROOT / "README.md").read_text(encoding="utf-8")))
    whole = [words for words in lines if words[0].startswith(".venv")]
    assert {words[1] for words in whole} == {"new", "make", "check", "open", "mix", "shelf", "swatch"}
    for words in whole:
        command, rest = COMMANDS[words[1]], words[2:]
        if below := getattr(command, "commands", {}):
            command, rest = below[rest[0]], rest[1:]
        command.make_context(words[1], rest)


def table_fields(name: str) -> dict[str, Any]:
    model = Settings.model_fields[name].annotation
    assert isinstance(model, type)
    assert issubclass(model, BaseModel)
    return dict(model.model_fields)


@pytest.mark.parametrize("page", HAND_WRITTEN, ids=page_id)
def test_settings_that_are_named_exist(page: Path) -> None:
    text = unfenced(page.read_text(encoding="utf-8"))
    for table, name in re.findall(r"`\[(\w+)\] (\w+)`", text) + re.findall(r"`\[\[(\w+)\.(\w+)\]\]`", text):
        assert name in table_fields(table), f"{page_id(page)} names [{table}] {name}"


@pytest.mark.parametrize("page", PAGES, ids=page_id)
def test_toml_examples_are_read(page: Path) -> None:
    for block in fences(page.read_text(encoding="utf-8"), "toml"):
        parse(block if "[print]" in block else f"[print]\nwidth_mm = 360.0\n{block}")


# ---- Findings and figures ------------------------------------------------------------------------------


def constants(node: ast.expr | None) -> set[str]:
    """The text that an expression can be: a constant, or either branch of a choice."""
    if isinstance(node, ast.IfExp):
        return constants(node.body) | constants(node.orelse)
    return {node.value} if isinstance(node, ast.Constant) and isinstance(node.value, str) else set()


def named_settings() -> set[str]:
    """What ``{setting}`` stands for in the codes of :meth:`NamedColours.missing`."""
    return {
        value
        for _, tree in source_trees()
        for call in ast.walk(tree)
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute) and call.func.attr == "missing"
        for keyword in call.keywords
        for value in constants(keyword.value)
    }


def codes_of(node: ast.expr) -> set[str]:
    if isinstance(node, ast.JoinedStr):
        ending = "".join(str(part.value) for part in node.values if isinstance(part, ast.Constant))
        return {f"{setting}{ending}" for setting in named_settings()}
    return constants(node)


def findings_in_code() -> dict[str, set[str]]:
    """Every finding's code with its severities, read from the calls that make findings."""
    found: dict[str, set[str]] = {}
    for path, tree in source_trees():
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "Finding":
                given = dict(zip(("code", "severity"), call.args, strict=False))
                given |= {keyword.arg: keyword.value for keyword in call.keywords if keyword.arg}
                codes, severities = codes_of(given["code"]), constants(given["severity"])
                assert codes, f"{path.name}, line {call.lineno}: the code cannot be read"
                assert severities, f"{path.name}, line {call.lineno}: the severity cannot be read"
                for code in codes:
                    found.setdefault(code, set()).update(severities)
    return found


def findings_in_docs() -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for page in sorted((DOCS / "stages").glob("*.md")):
        text = page.read_text(encoding="utf-8")
        for code, severities in re.findall(
            r"^\| `([a-z-]+)` \| ((?:note|warn|stop|, )+) \|", text, re.MULTILINE
        ):
            assert code not in found, f"{code} is explained twice"
            found[code] = set(severities.split(", "))
    return found


def test_every_finding_is_explained_and_every_explained_finding_exists() -> None:
    assert findings_in_docs() == findings_in_code()


@pytest.mark.parametrize("stage", STAGES)
def test_every_stage_has_its_page(stage: str) -> None:
    text = (DOCS / "stages" / f"{stage}.md").read_text(encoding="utf-8")
    headings = re.findall(r"^## (.+)$", text, flags=re.MULTILINE)
    assert headings == [*STAGE_SECTIONS, "What it cannot do"]


def test_figures_of_the_folder_page_are_those_that_are_told() -> None:
    tree = ast.parse((SOURCE / "telling.py").read_text(encoding="utf-8"))
    told = {
        str(key.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Dict)
        for name, value in zip(node.keys, node.values, strict=True)
        if isinstance(name, ast.Constant) and name.value == "figures" and isinstance(value, ast.Dict)
        for key in value.keys
        if isinstance(key, ast.Constant)
    }
    text = (DOCS / "folder.md").read_text(encoding="utf-8")
    section = text.split("### Figures")[1].split("### Lists")[0]
    assert set(re.findall(r"`(\w+)`", section)) == told


def imports_of(path: Path) -> set[str]:
    """The rooms and modules of ours that a room or a module imports, but for itself."""
    found: set[str] = set()
    for file in python_files(path):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("blockwright."):
                found.add(str(node.module).split(".")[1])
            elif isinstance(node, ast.ImportFrom) and node.module == "blockwright":
                found |= {alias.name for alias in node.names if not alias.name.startswith("__")}
    return found - {path.stem}


def test_rooms_import_what_the_first_decision_allows() -> None:
    text = (DOCS / "decisions" / "0001-the-house.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([\w.]+)/?` \| .+ \| (.+) \|$", text, flags=re.MULTILINE)
    named = {
        path.name for path in SOURCE.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()
    }
    assert {name for name, _ in rows} == named - {"__init__.py"}
    for name, allowed in rows:
        if allowed != "all of the above":
            words = set() if allowed.startswith("nothing") else set(allowed.split(", "))
            assert imports_of(SOURCE / name) <= words, name


# ---- Sources and numbers -------------------------------------------------------------------------------


def bibliography() -> dict[str, str]:
    text = (DOCS / "references.bib").read_text(encoding="utf-8")
    entries = re.split(r"^@\w+\{", text, flags=re.MULTILINE)[1:]
    found = {entry.split(",", 1)[0]: " ".join(entry.split(",", 1)[1].split()) for entry in entries}
    assert len(found) == len(entries), "a key stands twice"
    return found


def test_citations_are_in_the_bibliography_and_its_entries_are_cited() -> None:
    cited = {
        key
        for page in HAND_WRITTEN
        for key in re.findall(r"\[@([\w-]+)\]", page.read_text(encoding="utf-8"))
        if page.name != "index.md"
    }
    assert cited == set(bibliography())


def test_sources_that_the_code_names_are_in_the_bibliography() -> None:
    code = " ".join(
        " ".join(path.read_text(encoding="utf-8").split()) for path in sorted(SOURCE.rglob("*.py"))
    )
    entries = list(bibliography().values())
    standards = re.findall(
        r"\b(?:ISO(?:/IEC|/CIE)? \d[\d-]*\d|IEC \d[\d-]*\d|ITU-T T\.\d+|RFC \d+|ASTM [A-Z]\d+|ASME Y\d+\.\d+"
        r"|JEITA CP-\d+|TIFF \d\.\d|SVG \d\.\d|AC\d{4}|OGC Simple Features)\b",
        code,
    )
    assert len(set(standards)) > 15
    for standard in set(standards):
        assert any(f"number = {{{standard}" in entry for entry in entries), standard
    authors = re.findall(r"\b([A-Z][a-z]+)(?:(?:, | and | & )[A-Z][a-z]+)*,? ((?:18|19|20)\d\d)\b", code)
    assert ("Fletcher", "1916") in authors
    for name, year in set(authors):
        assert any(name in entry and year in entry for entry in entries), f"{name} {year}"
    for tag in set(re.findall(r"\[pub: ([^\]]+)\]", code)):
        words = tag.split(" for the ")[0].removeprefix("a ")
        known = any(words.casefold() in entry.casefold() for entry in entries)
        assert known or re.search(r"\d{4}$", words), tag
    for words in NEVER_STRINGS_ALONE:
        assert (words in code) == any(words.casefold() in entry.casefold() for entry in entries), words


def modules_of(page: str) -> list[ModuleType]:
    """The modules that a page says it describes."""
    named = re.findall(r"`(src/blockwright/[\w/*.]+)`", page)
    files = {file for name in named for path in ROOT.glob(name.rstrip("/")) for file in python_files(path)}
    return [
        importlib.import_module(".".join(file.relative_to(ROOT / "src").with_suffix("").parts))
        for file in sorted(files)
    ]


def python_files(path: Path) -> list[Path]:
    return sorted(path.rglob("*.py")) if path.is_dir() else [path]


@pytest.mark.parametrize("page", sorted((DOCS / "methods").glob("*.md")), ids=page_id)
def test_tolerances_have_the_values_that_the_page_gives(page: Path) -> None:
    """``NAME`` (number ...) in a page is a constant of a module that the page describes."""
    text = page.read_text(encoding="utf-8")
    modules = modules_of(text)
    for name, number in re.findall(r"`(_?[A-Z][A-Z0-9_]+)`(?:\s+\(([\d.e-]+)\b)?", text):
        values = [getattr(module, name) for module in modules if hasattr(module, name)]
        if not values and not number and "_" not in name.strip("_"):
            continue  # a word in capitals, not a constant
        assert values, f"{page_id(page)} names {name}"
        if number:
            firsts = [value[0] if isinstance(value, tuple) else value for value in values]
            assert any(first == pytest.approx(float(number)) for first in firsts), f"{name} is {values}"


def test_building_the_texts_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(DOCS))
    build = load(DOCS / "build.py")
    monkeypatch.setattr(build, "DOCS", tmp_path)
    monkeypatch.setattr(sys, "argv", ["build.py", "--texts"])
    build.main()
    for name in ("commands.md", "settings.md"):
        assert (tmp_path / name).read_bytes() == (DOCS / name).read_bytes()

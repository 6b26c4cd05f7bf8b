"""The house's plan, held to: which room may import which, and what no module may be or say."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import blockwright

ROOT = Path(blockwright.__file__).parent
MODULES = sorted(ROOT.rglob("*.py"))

MAY_IMPORT = {
    "model": set(),
    "data": set(),
    "geometry": {"model"},
    "colour": {"model"},
    "design": {"model", "geometry", "colour"},
    "separation": {"model", "geometry", "colour"},
    "proof": {"model", "geometry", "colour"},
    "blocks": {"model", "geometry"},
    "cutting": {"model", "geometry"},
    "inks": {"model", "geometry", "colour"},
    "edition": {"model"},
    "ledger": {"model"},
    "studio": {"model", "colour", "ledger", "inks", "design", "documents", "hashing"},
    "documents": {"model", "geometry", "data"},
    "demo": {"model", "geometry"},
    "telling": {"model"},
    "decisions": {"model"},
    "hashing": set(),
    "recent": set(),
    "hands": {"model"},
    "folder": {"model", "hands", "hashing"},
    "leaf_steps": {"model", "folder", "hashing", "documents"},
    "router_steps": {"model", "bits", "folder", "hashing", "telling", "cutting", "documents"},
    "deciding": {"model", "decisions"},
    "history": {"model", "decisions", "deciding", "folder"},
    "shapes": {"model", "geometry", "proof"},
    "tiles": {
        "steps",
        "hashing",
        "model",
        "geometry",
        "colour",
        "design",
        "proof",
        "documents",
        "decisions",
        "folder",
        "looking",
        "recent",
    },
    "web": {
        "project",
        "deciding",
        "history",
        "looking",
        "shapes",
        "tiles",
        "decisions",
        "folder",
        "telling",
        "model",
        "documents",
        "ledger",
        "studio",
        "shelf",
        "bits",
        "swatches",
        "keeping",
        "paints",
        "charts",
        "sheet_facts",
        "mixing",
    },
    "bits": {"model", "ledger", "studio"},
    "shelf": {"model", "colour", "studio", "bits"},
    "charts": {"design", "inks", "model"},
    "swatches": {"charts", "model", "colour", "inks", "design", "documents"},
    "keeping": {"model", "colour", "ledger", "studio"},
    "sheet_facts": {"charts", "swatches", "hashing", "model"},
    "paints": {"keeping", "studio", "swatches", "sheet_facts", "inks", "ledger", "hashing", "model"},
    "damp": {"colour"},
    "cli_saying": set(),
    "start": {"cli"},
    "cli_swatch": {
        "cli_saying",
        "damp",
        "charts",
        "swatches",
        "keeping",
        "paints",
        "studio",
        "ledger",
        "model",
    },
    "cli_bits": {"cli_saying", "bits", "studio", "telling", "model"},
    "cli_inks": {
        "cli_saying",
        "cli_bits",
        "bits",
        "studio",
        "project",
        "decisions",
        "telling",
        "model",
        "documents",
        "ledger",
    },
    "mixing": {"project", "shelf", "model", "colour", "inks"},
    "cli_mix": {"cli_saying", "mixing", "model"},
    "cli": {
        "cli_saying",
        "cli_mix",
        "cli_inks",
        "cli_swatch",
        "studio",
        "project",
        "decisions",
        "folder",
        "history",
        "telling",
        "model",
        "documents",
        "web",
    },
}
"""What a room or a top-level module may import of ours; ``project`` and its ``steps`` may import all."""

STAGE_ROOMS = {"design", "separation", "inks", "blocks", "cutting", "proof", "edition"}
MOST_LINES = 500
VAGUE_NAMES = {"utils", "util", "helpers", "helper", "common", "tools", "misc"}


def _room(module: Path) -> str:
    """The room of a module, or the name of a module that stands at the top."""
    first = module.relative_to(ROOT).parts[0]
    return first.removesuffix(".py")


def _imports(module: Path) -> Iterator[tuple[str, int]]:
    """Every room of ours that a module imports, anywhere in it, and the line where it does."""
    package = ["blockwright", *module.relative_to(ROOT).parent.parts]
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        names: list[str] = []
        line = getattr(node, "lineno", 0)
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) + 1 - node.level] if node.level else []
            start = ".".join([*base, *([node.module] if node.module else [])])
            names = [f"{start}.{alias.name}" for alias in node.names] if start == "blockwright" else [start]
        for name in names:
            parts = name.split(".")
            if parts[0] == "blockwright" and len(parts) > 1 and not parts[1].startswith("__"):
                yield parts[1], line


def test_the_reader_of_imports_sees_every_kind_of_import(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("test_imports.ROOT", tmp_path)
    (tmp_path / "design").mkdir()
    module = tmp_path / "design" / "thing.py"
    module.write_text(
        "import blockwright.cutting.plan\n"
        "from blockwright import proof, __version__\n"
        "from blockwright.blocks.kento import x\n"
        "import numpy\n"
        "from ..separation import y\n"
        "from . import z\n"
        "def f():\n"
        "    from blockwright.geometry import a\n",
        encoding="utf-8",
    )
    assert sorted(room for room, _ in _imports(module)) == [
        "blocks",
        "cutting",
        "design",
        "geometry",
        "proof",
        "separation",
    ]


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(ROOT)))
def test_imports_keep_to_the_plan(module: Path) -> None:
    room = _room(module)
    if room in {"project", "steps", "ink_steps", "separation_steps", "looking", "__init__"}:
        return
    assert room in MAY_IMPORT, f"{room} has no place in the plan of the house"
    wrong = [
        f"line {line}: {other}" for other, line in _imports(module) if other not in {room, *MAY_IMPORT[room]}
    ]
    assert not wrong, f"{module.relative_to(ROOT)} imports what its room may not: {wrong}"


def test_the_plan_keeps_the_stages_apart() -> None:
    for room in STAGE_ROOMS:
        assert not MAY_IMPORT[room] & STAGE_ROOMS


def test_the_package_itself_imports_nothing_of_ours() -> None:
    assert not list(_imports(ROOT / "__init__.py"))


def test_only_the_project_page_knows_every_stage() -> None:
    rooms = {
        room
        for page in ("project.py", "steps.py", "separation_steps.py")
        for room, _ in _imports(ROOT / page)
    }
    assert rooms >= {"design", "separation", "blocks", "cutting", "proof", "documents", "demo"}


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(ROOT)))
def test_modules_are_read_in_one_sitting(module: Path) -> None:
    text = module.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= MOST_LINES
    assert ast.get_docstring(ast.parse(text)), "says in its first line why it is there"


def test_no_name_says_nothing() -> None:
    for path in ROOT.rglob("*"):
        assert path.stem.lower() not in VAGUE_NAMES


def test_rooms_say_what_they_offer() -> None:
    for room in STAGE_ROOMS | {"colour", "documents", "demo"}:
        front = ROOT / room / "__init__.py"
        if front.exists():
            tree = ast.parse(front.read_text(encoding="utf-8"))
            offered = [
                ast.literal_eval(node.value)
                for node in tree.body
                if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
                if node.targets[0].id == "__all__"
            ]
            assert len(offered) == 1
            assert 1 <= len(offered[0]) <= 20


def test_no_module_knows_the_machine_it_was_written_on() -> None:
    """No absolute path and no path out of the project."""
    for module in MODULES:
        for number, line in enumerate(module.read_text(encoding="utf-8").splitlines(), start=1):
            place = f"{module.relative_to(ROOT)}:{number}"
            assert not re.search(r"(?<![\w.:/<])/(tmp|home|root|work|usr|var|opt|mnt|srv)\b", line), place
            assert "../" not in line, place

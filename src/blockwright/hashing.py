"""Hashes that say whether something is still the same: files, plain values, and our own code."""

import hashlib
import json
from collections.abc import Iterator
from functools import lru_cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any


def _source_files(place: Traversable) -> Iterator[Traversable]:
    if place.is_dir():
        for inside in sorted(place.iterdir(), key=lambda f: f.name):
            if not inside.name.startswith(("__pycache__", ".")):
                yield from _source_files(inside)
    else:
        yield place


@lru_cache(maxsize=32)
def code_version(rooms: tuple[str, ...]) -> str:
    """A hash of the named rooms and modules, with what they carry: a stage is made again when they change.

    It is read once in a process, which goes on with the code that it started with.
    """
    digest = hashlib.sha256()
    root = resources.files("blockwright")
    for room in rooms:
        for file in _source_files(root / room):
            digest.update(f"{room}/{file.name}\0".encode() + hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()


def file_hash(path: Path) -> str:
    """The SHA-256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def make_key(*parts: Any) -> str:
    """A hash of plain values."""
    text = json.dumps(parts, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()

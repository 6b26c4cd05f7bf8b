"""What drawing the areas of ink came to, by a digest of what it was drawn from.

A process remembers it, so that after an edit only what the edit touches is done again. A :class:`Notebook`
hands it on to the next process, in a file beside the areas: the same shapes come to the same, bit for bit.
"""

import io
import struct
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import update_wrapper
from hashlib import blake2b
from typing import Any, Generic, ParamSpec, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

P = ParamSpec("P")
V = TypeVar("V")

_DIGEST_BYTES = 16


def digest(*parts: bytes) -> bytes:
    """A digest of bytes in a row."""
    return blake2b(b"".join(parts), digest_size=_DIGEST_BYTES).digest()


@dataclass(frozen=True, slots=True, eq=False)
class _Entry:
    """What something came to: polygons, an area or a number; ``rests_on`` is what was looked up for it."""

    key: bytes
    value: Any
    rests_on: tuple["_Entry", ...]


_LOOKED_UP: ContextVar[list[_Entry] | None] = ContextVar("looked up", default=None)
"""Where what is looked up is written down: by a run, or by the work that looks it up."""

_NOTEBOOK: ContextVar["Notebook | None"] = ContextVar("notebook", default=None)


class Remembered(Generic[P, V]):
    """A function whose results are remembered by the digests of what it is given; see :func:`remembered`."""

    def __init__(self, work: Callable[P, V], most: int) -> None:
        self._work, self._most = work, most
        self._name = work.__name__.encode()
        self._kept: OrderedDict[bytes, _Entry] = OrderedDict()
        self._lock = threading.Lock()
        self.worked_out = 0
        """How often the work itself was done."""
        update_wrapper(self, work)

    def __call__(self, *of: P.args, **named: P.kwargs) -> V:
        """What the function gives, worked out or remembered. What it is given needs a digest."""
        key = digest(self._name, *(_known_as(each) for each in (*of, *named.values())))
        entry = self._held(key) or self._noted(key)
        if entry is None:
            below: list[_Entry] = []
            token = _LOOKED_UP.set(below)
            try:
                value = self._work(*of, **named)
            finally:
                _LOOKED_UP.reset(token)
            self.worked_out += 1
            entry = _Entry(key, value, tuple({each.key: each for each in below}.values()))
            self._hold(entry)
        above = _LOOKED_UP.get()
        if above is not None:
            above.append(entry)
        result: V = entry.value
        return result

    def forget(self) -> None:
        """Remember nothing, as another process."""
        with self._lock:
            self._kept.clear()

    def _held(self, key: bytes) -> _Entry | None:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def _hold(self, entry: _Entry) -> None:
        with self._lock:
            self._kept[entry.key] = entry
            if len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def _noted(self, key: bytes) -> _Entry | None:
        notebook = _NOTEBOOK.get()
        entry = None if notebook is None else notebook.find(key)
        if entry is not None:
            self._hold(entry)
        return entry


def remembered(most: int) -> Callable[[Callable[P, V]], Remembered[P, V]]:
    """Have a process remember the last ``most`` results of a function, and a notebook those of a run.

    What the function is given are numbers, things that have a ``digest``, or tuples of such; what it gives
    is a number, an array of polygons or one area, which nobody may change.
    """
    return lambda work: Remembered(work, most)


def _known_as(of: Any) -> bytes:
    if isinstance(of, tuple):
        return digest(*(_known_as(each) for each in of))
    return struct.pack("<d", of) if isinstance(of, float) else bytes(of.digest)


_NUMBER, _POLYGONS, _AREA, _SAME = range(4)
"""Kinds of what is kept: one that is the very same as what it rests on is kept once."""

_ARRAYS = ("keys", "kinds", "counts", "numbers", "lengths", "wkb", "below_counts", "below")
"""The arrays of a page, in their order."""


@dataclass(slots=True)
class Notebook:
    """What earlier runs came to, and what this one looks up. ``version`` is that of the code.

    ``earlier`` gives their pages, as :meth:`page` made them; it is asked when something is not remembered.
    Pages of other code, and what is no page, count for nothing.
    """

    version: str
    earlier: Callable[[], Sequence[bytes]] = tuple
    _looked_up: list[_Entry] = field(default_factory=list)
    _pages: "list[_Page] | None" = None
    _opening: threading.Lock = field(default_factory=threading.Lock)

    @contextmanager
    def open(self) -> Iterator[None]:
        """Look up here what the process does not remember, and write down all that is looked up."""
        book, noted = _NOTEBOOK.set(self), _LOOKED_UP.set(self._looked_up)
        try:
            yield
        finally:
            _LOOKED_UP.reset(noted)
            _NOTEBOOK.reset(book)

    def find(self, key: bytes) -> _Entry | None:
        """What was found under a key before."""
        with self._opening:
            if self._pages is None:
                read = (_read(content, self.version) for content in self.earlier())
                self._pages = [page for page in read if page is not None]
        return next((entry for page in self._pages if (entry := page.entry(key))), None)

    def page(self) -> bytes:
        """All that was looked up with what it rests on, to be kept: the same whatever was remembered."""
        entries: dict[bytes, _Entry] = {}
        ahead = list(self._looked_up)
        while ahead:
            entry = ahead.pop()
            if entry.key not in entries:
                entries[entry.key] = entry
                ahead.extend(entry.rests_on)
        return _written([entries[key] for key in sorted(entries)], self.version)


def _written(entries: Sequence[_Entry], version: str) -> bytes:
    """Entries as the bytes of plain arrays one after the other, after a digest over all of them."""
    place = {entry.key: k for k, entry in enumerate(entries)}
    kinds, counts, numbers, wkb, below = [], [], [], list[bytes](), list[list[int]]()
    for entry in entries:
        kind, number, geometries = _plain(entry)
        kinds.append(kind)
        numbers.append(number)
        counts.append(len(geometries))
        wkb += shapely.to_wkb(geometries).tolist() if len(geometries) else []
        below.append([place[each.key] for each in entry.rests_on])
    arrays: dict[str, NDArray[Any]] = {
        "keys": np.frombuffer(b"".join(entry.key for entry in entries), dtype=np.uint8),
        "kinds": np.array(kinds, dtype=np.int64),
        "counts": np.array(counts, dtype=np.int64),
        "numbers": np.array(numbers, dtype=np.float64),
        "lengths": np.array([len(each) for each in wkb], dtype=np.int64),
        "wkb": np.frombuffer(b"".join(wkb), dtype=np.uint8),
        "below_counts": np.array([len(each) for each in below], dtype=np.int64),
        "below": np.array([k for each in below for k in each], dtype=np.int64),
    }
    content = io.BytesIO()
    content.write(_seal(arrays, version))
    for name in _ARRAYS:
        np.save(content, arrays[name], allow_pickle=False)
    return content.getvalue()


def _plain(entry: _Entry) -> tuple[int, float, NDArray[np.object_]]:
    """The kind of what is kept, its number, and its geometries."""
    nothing = np.empty(0, dtype=object)
    for k, below in enumerate(entry.rests_on):
        if entry.value is below.value:
            return _SAME, float(k), nothing
    if isinstance(entry.value, float):
        return _NUMBER, entry.value, nothing
    if isinstance(entry.value, MultiPolygon):
        return _AREA, 0.0, np.array([entry.value], dtype=object)
    return _POLYGONS, 0.0, entry.value


def _seal(arrays: dict[str, NDArray[Any]], version: str) -> bytes:
    return digest(version.encode(), *(arrays[name].tobytes() for name in _ARRAYS))


def _read(content: bytes, version: str) -> "_Page | None":
    """A page of this very code, whole as it was written; None otherwise."""
    try:
        rest = io.BytesIO(content)
        seal = rest.read(_DIGEST_BYTES)
        arrays = {name: np.load(rest, allow_pickle=False) for name in _ARRAYS}
    except (OSError, ValueError, EOFError, SyntaxError):
        return None
    return _Page(arrays) if seal == _seal(arrays, version) else None


class _Page:
    """A page of a notebook, whose entries are made when they are looked for."""

    def __init__(self, arrays: dict[str, NDArray[Any]]) -> None:
        self._arrays = arrays
        keys, size = arrays["keys"].tobytes(), _DIGEST_BYTES
        self._place = {keys[k * size : (k + 1) * size]: k for k in range(len(keys) // size)}
        self._keys = list(self._place)
        self._first = _starts(arrays["counts"])
        self._from = _starts(arrays["lengths"])
        self._below = _starts(arrays["below_counts"])
        self._made: dict[int, _Entry] = {}
        self._making = threading.RLock()

    def entry(self, key: bytes) -> _Entry | None:
        """The entry of a key, with those that it rests on."""
        place = self._place.get(key)
        if place is None:
            return None
        with self._making:
            return self._entry(place)

    def _entry(self, place: int) -> _Entry:
        if place not in self._made:
            at = slice(self._below[place], self._below[place + 1])
            below = tuple(self._entry(k) for k in self._arrays["below"][at].tolist())
            self._made[place] = _Entry(self._keys[place], self._value(place, below), below)
        return self._made[place]

    def _value(self, place: int, below: tuple[_Entry, ...]) -> Any:
        kind, number = int(self._arrays["kinds"][place]), float(self._arrays["numbers"][place])
        if kind == _NUMBER:
            return number
        if kind == _SAME:
            return below[int(number)].value
        at, held = range(self._first[place], self._first[place + 1]), self._arrays["wkb"]
        wkb = [held[self._from[k] : self._from[k + 1]].tobytes() for k in at]
        geometries: NDArray[np.object_] = shapely.from_wkb(np.array(wkb, dtype=object))
        return geometries[0] if kind == _AREA else geometries


def _starts(counts: NDArray[np.int64]) -> list[int]:
    starts: list[int] = np.concatenate([[0], np.cumsum(counts)]).tolist()
    return starts

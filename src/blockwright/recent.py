"""Values that are kept for a while, by key: the least used go first. From any thread."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class Recent(Generic[Key, Value]):
    """Values by key, the least used thrown away first when their weight is above a limit."""

    def __init__(self, most: int, weigh: Callable[[Value], int] = lambda _: 1) -> None:
        self._most, self._weigh = most, weigh
        self._values: OrderedDict[Key, Value] = OrderedDict()
        self._weight = 0
        self._lock = Lock()

    @property
    def weight(self) -> int:
        """The weight of all values."""
        return self._weight

    def get(self, key: Key) -> Value | None:
        """The value, or None when it is not there."""
        with self._lock:
            if key in self._values:
                self._values.move_to_end(key)
            return self._values.get(key)

    def put(self, key: Key, value: Value) -> None:
        """Keep a value."""
        with self._lock:
            if key in self._values:
                self._weight -= self._weigh(self._values.pop(key))
            self._values[key] = value
            self._weight += self._weigh(value)
            while self._weight > self._most and len(self._values) > 1:
                self._weight -= self._weigh(self._values.popitem(last=False)[1])

    def first(self, wanted: Callable[[Value], bool]) -> Value | None:
        """The value that was used last of those that are wanted; None when there is none."""
        with self._lock:
            return next((value for value in reversed(self._values.values()) if wanted(value)), None)

    def keep(self, most: int) -> None:
        """Keep only so many values, those used last."""
        with self._lock:
            while len(self._values) > most:
                self._weight -= self._weigh(self._values.popitem(last=False)[1])

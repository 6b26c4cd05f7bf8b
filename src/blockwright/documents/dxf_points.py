"""Points of an outline for a DXF drawing, written as one text."""

from collections.abc import Iterator

import numpy as np
from ezdxf.entities.lwpolyline import LWPolylinePoints
from ezdxf.lldxf.types import DXFTag

from blockwright.documents.decimals import DXF, spell


class _Written(DXFTag):  # type: ignore[misc]
    """All points of an outline, ready to be written."""

    __slots__ = ()

    def dxfstr(self) -> str:
        return str(self._value)


class OutlinePoints(LWPolylinePoints):  # type: ignore[misc]
    """Points without widths and bulges, five values a row as the library keeps them.

    The library writes every coordinate as an object of its own; a face has tens of thousands.
    """

    __slots__ = ()

    def dxftags(self) -> Iterator[DXFTag]:
        """Yield the points: group codes 10 and 20, as the library would write them one by one."""
        rows = np.asarray(self.values).reshape(-1, self.VERTEX_SIZE)
        whole = np.array([0, len(rows)]), np.array([False])
        yield _Written(self.VERTEX_CODE, spell(rows[:, :2], *whole, DXF))

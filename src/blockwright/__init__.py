"""blockwright: from a colour design to the woodblocks that print it.

The whole job is told on one page, :mod:`blockwright.project`. Lengths are millimetres, areas square
millimetres; the origin is the upper left corner of the image, x to the right, y down.
"""

__version__ = "0.1.0"

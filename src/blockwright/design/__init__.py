"""From a picture file to shapes: the design room."""

from blockwright.design.making import make_design
from blockwright.design.reading import MOST_PIXELS, Picture, read_picture

__all__ = ["MOST_PIXELS", "Picture", "make_design", "read_picture"]

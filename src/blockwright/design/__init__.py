"""From a picture file to shapes: the design room."""

from blockwright.design.making import finish_design, make_design, trace_picture
from blockwright.design.reading import MOST_PIXELS, Picture, read_picture

__all__ = ["MOST_PIXELS", "Picture", "finish_design", "make_design", "read_picture", "trace_picture"]

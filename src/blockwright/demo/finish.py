"""What of the demonstration print is not ink: the sun is laid in gold leaf, the heron is embossed."""

from blockwright.demo.palette import GOLD, HERON, NAMES
from blockwright.model.finishes import Karazuri, LeafOn

LEAF = (LeafOn(colour=NAMES[GOLD], metal="gold"),)
"""Only the sun has this colour."""

KARAZURI = (Karazuri(colour=NAMES[HERON]),)
"""The heron keeps its pale tint: with the bird pressed into the sheet its edges stand against the sky."""

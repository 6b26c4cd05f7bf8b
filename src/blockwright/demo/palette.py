"""The inks of the demonstration print: every flat colour with the name a printmaker would give it."""

PAPER = "#f6efdf"
GOLD = "#dda73c"
SILVER = "#aebbc4"
HERON = "#dde9ee"
LILAC = "#9b92b0"
SLATE = "#667695"
PINE = "#314a57"
SAND = "#d3a88c"
CLAY = "#a97a6a"
UMBER = "#634741"
RUSSET = "#86483b"
SAGE = "#80875f"
MADDER = "#b5483c"
BLACK = "#23222b"

SKY = ("#324072", "#f9bd9e")
"""Dusk sky, from the top down to the far shore."""
WATER = ("#f7c6a6", "#44587f")
"""Standing water, from the far shore down to the near creek."""

NAMES = {
    PAPER: "bare paper",
    GOLD: "gold leaf",
    SILVER: "silver water",
    HERON: "heron white",
    LILAC: "far lilac",
    SLATE: "slate blue",
    PINE: "pine shadow",
    SAND: "wet sand",
    CLAY: "tide clay",
    UMBER: "bank umber",
    RUSSET: "tarred russet",
    SAGE: "salt sage",
    MADDER: "madder red",
    BLACK: "reed black",
}

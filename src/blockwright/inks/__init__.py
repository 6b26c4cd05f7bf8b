"""The inks of a print: what is taken from the shelf, what is mixed, and how much an edition needs."""

from blockwright.inks.printing import ink_print
from blockwright.inks.quantities import (
    Need,
    Quantities,
    covered_sheets,
    ink_needed_g,
    laydown_g_per_m2,
    pot_warning,
    quantities,
)

__all__ = [
    "Need",
    "Quantities",
    "covered_sheets",
    "ink_needed_g",
    "ink_print",
    "laydown_g_per_m2",
    "pot_warning",
    "quantities",
]

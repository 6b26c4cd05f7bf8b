"""How much ink an edition needs, and of what it is mixed."""

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
    "laydown_g_per_m2",
    "pot_warning",
    "quantities",
]

"""The inks of a print: how an ink becomes known, what is taken or mixed, and how much an edition needs."""

from blockwright.inks.printing import ink_print
from blockwright.inks.quantities import (
    Need,
    covered_sheets,
    ink_needed_g,
    laydown_g_per_m2,
    pot_warning,
)
from blockwright.inks.reading import read_sheet
from blockwright.inks.sheet import lay_out_sheet, plan_sheet
from blockwright.inks.spectral_tables import read_table
from blockwright.inks.swatch_fit import find_inks

__all__ = [
    "Need",
    "covered_sheets",
    "find_inks",
    "ink_needed_g",
    "ink_print",
    "lay_out_sheet",
    "laydown_g_per_m2",
    "plan_sheet",
    "pot_warning",
    "read_sheet",
    "read_table",
]

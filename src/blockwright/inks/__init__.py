"""How an ink becomes known: measured tables, the calibration sheet, scanned swatches."""

from blockwright.inks.reading import read_sheet
from blockwright.inks.sheet import lay_out_sheet, plan_sheet
from blockwright.inks.spectral_tables import read_table
from blockwright.inks.swatch_fit import find_inks

__all__ = ["find_inks", "lay_out_sheet", "plan_sheet", "read_sheet", "read_table"]

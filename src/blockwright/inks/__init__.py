"""How an ink becomes known: measured tables, the calibration sheet, scanned swatches."""

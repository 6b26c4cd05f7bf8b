"""The frozen values that flow from stage to stage, findings, errors and units; no algorithms."""

"""From shapes to impressions: what each ink prints, in which order, and how far it runs under others."""

from blockwright.separation.remembering import Notebook
from blockwright.separation.separate import separate
from blockwright.separation.sketching import KnownPlans, Sketchbook

__all__ = ["KnownPlans", "Notebook", "Sketchbook", "separate"]

"""From shapes to impressions: what each ink prints, in which order, and how far it runs under others."""

from blockwright.separation.separate import separate

__all__ = ["separate"]

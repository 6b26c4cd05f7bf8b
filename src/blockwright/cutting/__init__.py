"""From the faces to what goes to the bench or to the stencil cutter."""

from blockwright.cutting.plan import plan_cuts

__all__ = ["plan_cuts"]

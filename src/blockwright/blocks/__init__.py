"""From impressions to boards: the one place where the print is mirrored and the kento is set."""

from blockwright.blocks.lay_out import lay_out_blocks

__all__ = ["lay_out_blocks"]

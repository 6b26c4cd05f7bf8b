"""The print before any wood is cut: predicted colours, the risk of the register, progressive pictures."""

from blockwright.proof.pictures import impression_alone, progress_pictures
from blockwright.proof.prove import prove
from blockwright.proof.register import gape_probability, trap_for_probability

__all__ = ["gape_probability", "impression_alone", "progress_pictures", "prove", "trap_for_probability"]

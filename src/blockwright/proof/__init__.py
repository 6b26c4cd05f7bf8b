"""The print before any wood is cut: predicted colours, the risk of the register, progressive pictures."""

from blockwright.proof.pictures import impression_alone, progress_pictures
from blockwright.proof.prove import prove

__all__ = ["impression_alone", "progress_pictures", "prove"]

"""The printmaker's decisions come one at a time: this room writes each into the text of ``print.toml``.

``change`` goes from text to text and touches no disk; the acts say what can be decided.
"""

from blockwright.deciding.acts import (
    Act,
    AddAccept,
    AddDrop,
    AddMerge,
    AddName,
    AddRecolour,
    DropBoard,
    PutBoard,
    SetFaceMethod,
    SetFinish,
    SetMixFrom,
    SetOrder,
    SetPalette,
    SetPasses,
    SetPigments,
    SetTake,
    SetTrapOf,
    SetValue,
    TakeBack,
)
from blockwright.deciding.changing import change

__all__ = [
    "Act",
    "AddAccept",
    "AddDrop",
    "AddMerge",
    "AddName",
    "AddRecolour",
    "DropBoard",
    "PutBoard",
    "SetFaceMethod",
    "SetFinish",
    "SetMixFrom",
    "SetOrder",
    "SetPalette",
    "SetPasses",
    "SetPigments",
    "SetTake",
    "SetTrapOf",
    "SetValue",
    "TakeBack",
    "change",
]

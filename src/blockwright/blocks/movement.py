"""How far a board moves across its grain when its moisture changes: dD = D C dM.

Wood Handbook, FPL-GTR-190, chapter 13: D is the width, C the coefficient of the wood and the way it was sawn,
dM the change of moisture content in points; it holds from 6 to 14 %.
"""

VALID_PERCENT = (6.0, 14.0)
"""Moisture contents between which the coefficients hold (Wood Handbook, FPL-GTR-190, chapter 13)."""


def movement_mm(width_mm: float, coefficient: float, *, from_percent: float, to_percent: float) -> float:
    """How much wider (mm) a board of ``width_mm`` grows as its moisture goes from one content to the other.

    Less than 0 where it shrinks. ``coefficient`` is a part of the width for each point of moisture. Outside 6
    to 14 % the line is drawn on, which tells too little when the wood comes near to being soaked or very dry.

    Flat-sawn black cherry, 250 mm wide:

    >>> round(movement_mm(250.0, 0.00248, from_percent=9.0, to_percent=13.0), 2)
    2.48
    """
    return width_mm * coefficient * (to_percent - from_percent)


def is_drawn_on(moisture_percent: float) -> bool:
    """Whether a moisture content lies outside those for which the coefficients hold.

    >>> is_drawn_on(9.2), is_drawn_on(16.0)
    (False, True)
    """
    least, most = VALID_PERCENT
    return not least <= moisture_percent <= most

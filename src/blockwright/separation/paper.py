"""Which colours of a design are left as bare paper."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from blockwright.colour import delta_e00, hex_to_lab, hex_to_srgb, linear_to_lab, srgb_to_linear
from blockwright.model.design import PaletteColour

Reason = Literal["near", "lighter"]


@dataclass(frozen=True, slots=True)
class PaperRule:
    """Bare paper stands for a colour that is near it, or lighter than it with nothing that an ink could add.

    Near: the CIEDE2000 difference from the paper is at most ``within_delta_e00``. Lighter: L* is the paper's
    or more, and the best that a transparent ink can do, which in each band of linear light is the darker of
    the colour and the paper, is itself near the paper. So white on cream paper is paper, but a clear yellow
    on grey paper is printed though its L* is higher: its blue band can still be taken down.
    """

    paper_hex: str
    within_delta_e00: float

    def reason(self, colour: PaletteColour) -> Reason | None:
        """Why a colour is left unprinted; None when it is printed.

        >>> rule = PaperRule("#f6efdf", 4.0)
        >>> white = PaletteColour("white", "#ffffff", hex_to_lab("#ffffff"))
        >>> rule.reason(white)
        'lighter'
        """
        paper = hex_to_lab(self.paper_hex)
        if float(delta_e00(colour.lab, paper)) <= self.within_delta_e00:
            return "near"
        if colour.lab[0] < paper[0]:
            return None
        wanted, ground = (srgb_to_linear(hex_to_srgb(h)) for h in (colour.srgb_hex, self.paper_hex))
        reachable = linear_to_lab(np.minimum(wanted, ground))
        return "lighter" if float(delta_e00(reachable, paper)) <= self.within_delta_e00 else None

"""How much water wood holds in the air of a room: equilibrium moisture content by Hailwood and Horrobin.

Wood Handbook, FPL-GTR-190, equation 4-5: water in wood is taken as partly a solution and partly two hydrates.
"""

_PERCENT = 100.0

_W = (349.0, 1.29, 0.0135)
_K = (0.805, 0.000736, -0.00000273)
_K1 = (6.27, -0.00938, -0.000303)
_K2 = (1.91, 0.0407, -0.000293)
"""Constants of the equation for temperatures in °C: the value at 0 °C, and what T and T squared add [mem]."""


def equilibrium_moisture_percent(*, humidity_percent: float, temperature_c: float) -> float:
    """The moisture content (percent of the dry wood's weight) that wood comes to in this air.

    ``humidity_percent`` is relative, above 0 and below 100. Weeks may pass before a thick board has it.

    >>> round(equilibrium_moisture_percent(humidity_percent=65.0, temperature_c=21.0), 1)
    12.0
    """
    weight, k, k1, k2 = (
        first + temperature_c * (second + temperature_c * third)
        for first, second, third in (_W, _K, _K1, _K2)
    )
    kh = k * humidity_percent / _PERCENT
    hydrates = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    return 1800.0 / weight * (kh / (1.0 - kh) + hydrates)

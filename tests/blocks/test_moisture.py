"""Moisture of wood in a room's air, against the Wood Handbook's own table and example."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.blocks.moisture import equilibrium_moisture_percent


@pytest.mark.parametrize(
    ("humidity_percent", "moisture_percent"), [(30, 6.2), (50, 9.2), (65, 12.0), (80, 16.0), (90, 20.5)]
)
def test_a_room_at_21_degrees(humidity_percent: float, moisture_percent: float) -> None:
    """Wood Handbook, FPL-GTR-190, table 4-2, 21.1 °C (70 °F); the five values are given from memory."""
    found = equilibrium_moisture_percent(humidity_percent=humidity_percent, temperature_c=21.0)
    assert found == pytest.approx(moisture_percent, abs=0.06)


def test_a_warm_kiln() -> None:
    """A published example for Wood Handbook, FPL-GTR-190, equation 4-5: 140 °F and 55 % give 8.4 %."""
    found = equilibrium_moisture_percent(humidity_percent=55.0, temperature_c=60.0)
    assert found == pytest.approx(8.4, abs=0.05)


@given(st.floats(5, 94), st.floats(0, 60))
def test_damper_air_makes_damper_wood_up_to_where_fibres_are_full(humidity: float, warmth: float) -> None:
    """Fibres are full at about 30 % (Wood Handbook, chapter 4): the settings' range stays below it."""
    drier = equilibrium_moisture_percent(humidity_percent=humidity, temperature_c=warmth)
    damper = equilibrium_moisture_percent(humidity_percent=humidity + 1.0, temperature_c=warmth)
    assert 0.0 < drier < damper < 30.0

"""Which bits and which machine a print is routed with."""

from dataclasses import replace

import pytest

from blockwright.bits import chosen_routers, first_routers
from blockwright.model.errors import BitError
from blockwright.model.settings_router import RouterTable
from blockwright.model.shelf import RouterShelf

FIRST = first_routers()


def test_without_names_it_is_all_bits_and_the_first_machine() -> None:
    assert chosen_routers(FIRST, RouterTable()) == (FIRST.bits, FIRST.machines[0])


def test_names_choose_whatever_their_capitals_and_numbers_order() -> None:
    other = replace(FIRST.machines[0], name="Big")
    shelf = RouterShelf(FIRST.bits, (*FIRST.machines, other))
    bits, machine = chosen_routers(shelf, RouterTable(bits=("60 DEGREE v", "3 mm flat"), machine="big"))
    assert [each.name for each in bits] == ["3 mm flat", "60 degree V"]
    assert machine is other


@pytest.mark.parametrize(
    ("shelf", "settings", "told"),
    [
        (FIRST, RouterTable(bits=("3 mm ball",)), "bits names 3 mm ball, which is not in use"),
        (FIRST, RouterTable(machine="mill"), "machine names mill, which is not in use"),
        (RouterShelf((), FIRST.machines), RouterTable(), "No bit on the shelf is in use"),
        (RouterShelf(FIRST.bits, ()), RouterTable(), "No machine on the shelf is in use"),
    ],
)
def test_what_is_not_in_use_is_told(shelf: RouterShelf, settings: RouterTable, told: str) -> None:
    with pytest.raises(BitError, match=told) as caught:
        chosen_routers(shelf, settings)
    assert "\n" not in str(caught.value)

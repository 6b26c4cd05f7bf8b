"""The demonstration print, put together in paint order."""

from functools import cache

from blockwright.demo import distance, foreground, mill, palette, shore, tide, wheel
from blockwright.demo.scene import Scene
from blockwright.demo.settle import settle

WIDTH_MM, HEIGHT_MM = 360.0, 240.0


@cache
def tide_mill() -> Scene:
    """Tide mill at low water: 360 x 240 mm, fourteen flat colours, a graded sky and graded water.

    >>> tide_mill().title
    'Tide mill at low water'
    """
    shapes = (
        *distance.sky_and_sun(),
        *distance.far_shore(),
        *distance.heron(),
        *tide.tidal_flats(),
        *distance.lights_on_the_pond(),
        *shore.dam(),
        *wheel.sluice(),
        *mill.house(wheel.covered_wall()),
        *tide.wall_in_the_race(),
        *wheel.water_wheel(),
        *shore.mill_bank(),
        *foreground.mooring_posts(),
        *foreground.waders(),
        *foreground.boat(),
        *foreground.near_banks(),
        *foreground.reeds(),
    )
    return settle(Scene("Tide mill at low water", WIDTH_MM, HEIGHT_MM, palette.PAPER, shapes))

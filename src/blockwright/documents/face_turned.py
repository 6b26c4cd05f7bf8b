"""A face as it lies on the machine where the block is turned by a quarter to the left."""

from dataclasses import replace

import shapely
from shapely import affinity

from blockwright.model.blocks import BlockSet, Kento


def turned_by_a_quarter(blocks: BlockSet) -> BlockSet:
    """Turn what a plan of a face is drawn from: block, sheet and the recesses of the marks.

    All turn to the left about the image's upper left corner, seen with y down; the rest stays. What prints,
    the image and the walls of the marks are not turned: a plan with a relief does without them.

    >>> _turned(shapely.box(0.0, 0.0, 400.0, 300.0)).bounds
    (0.0, -400.0, 300.0, 0.0)
    """

    def kento(marks: Kento) -> Kento:
        return replace(
            marks, kagi_recess=_turned(marks.kagi_recess), hikitsuke_recess=_turned(marks.hikitsuke_recess)
        )

    return replace(
        blocks,
        block=_turned(blocks.block),
        sheet=_turned(blocks.sheet),
        kento=kento(blocks.kento),
        turned_kento=None if blocks.turned_kento is None else kento(blocks.turned_kento),
    )


def _turned(area: shapely.Polygon) -> shapely.Polygon:
    return affinity.affine_transform(area, [0.0, 1.0, -1.0, 0.0, 0.0, 0.0])

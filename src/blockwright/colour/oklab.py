"""OKLab, in which equal steps of chroma keep their hue: for bringing colours onto a display.

Source: Ottosson, "A perceptual color space for image processing", 2020, with the matrices that he gives for
linear sRGB; their rows sum to 1, so that white has exactly no chroma. Judging differences is left to
CIEDE2000.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

_LINEAR_TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_CONES_TO_OKLAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
_CONES_TO_LINEAR = np.linalg.inv(_LINEAR_TO_CONES)
_OKLAB_TO_CONES = np.linalg.inv(_CONES_TO_OKLAB)


def linear_to_oklab(linear: ArrayLike) -> NDArray[np.float64]:
    """Linear sRGB, shape (..., 3), to OKLab: L from 0 to 1, a and b about -0.4 to 0.4. Nothing is clipped.

    >>> linear_to_oklab([1.0, 0.0, 0.0]).round(3).tolist()
    [0.628, 0.225, 0.126]
    """
    cones = np.asarray(linear, dtype=np.float64) @ _LINEAR_TO_CONES.T
    oklab: NDArray[np.float64] = np.cbrt(cones) @ _CONES_TO_OKLAB.T
    return oklab


def oklab_to_linear(oklab: ArrayLike) -> NDArray[np.float64]:
    """OKLab, shape (..., 3), to linear sRGB; colours outside sRGB leave 0 to 1.

    >>> oklab_to_linear([0.5, 0.0, 0.0]).round(6).tolist()
    [0.125, 0.125, 0.125]
    """
    cones = np.asarray(oklab, dtype=np.float64) @ _OKLAB_TO_CONES.T
    linear: NDArray[np.float64] = cones**3 @ _CONES_TO_LINEAR.T
    return linear

"""Inks as they are known: K and S of each band, and how surely, carried into what is predicted from them.

The uncertainty is kept as directions: each is a small change of log K and log S of all inks and bands that
would be as likely as not, one standard deviation long, and the covariance is the sum over the directions of
each with itself. So what is uncertain together stays together: a film that was thicker than thought moves all
bands at once. A prediction is made once for each direction, and the differences add up.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.difference import delta_e00
from blockwright.colour.spectra import Light, reflectance_to_lab
from blockwright.model.errors import InkError

FILM_VARIATION = 0.03
"""How much the film of one pass differs from print to print, as a part of it (standard deviation), where it
has not been measured. [CP], for a practised hand."""

MIXTURE_DELTA_E00 = 3.0
"""How far two-constant theory itself is off for a mixture of two paints that were fitted with one test mix
of them, as CIEDE2000 that two of three mixtures keep: found on measured oil paints, beyond the uncertainty of
their fits. To be added as the root of the sum of squares. A mixture without a test mix is a guess."""

Prediction = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]
"""From K and S, each of shape (..., inks, 36), to a reflectance of shape (..., 36)."""


@dataclass(frozen=True, slots=True, eq=False)
class InkOptics:
    """Inks by name, K and S of shape (inks, bands), and the directions of their uncertainty.

    ``log_k_spread`` and ``log_s_spread`` have shape (directions, inks, bands). All arrays are read only.
    """

    names: tuple[str, ...]
    k: NDArray[np.float64]
    s: NDArray[np.float64]
    log_k_spread: NDArray[np.float64]
    log_s_spread: NDArray[np.float64]

    def __post_init__(self) -> None:
        shape = self.k.shape
        alike = self.s.shape == shape and shape[:1] == (len(self.names),)
        if (
            len(shape) != 2
            or not alike
            or {self.log_k_spread.shape[1:], self.log_s_spread.shape[1:]} != {shape}
        ):
            raise InkError("Each ink needs a name and a K, an S and their uncertainty for every band.")
        if not np.all(np.isfinite(self.k)) or not np.all(np.isfinite(self.s)):
            raise InkError("K and S of an ink are numbers.")
        if np.any(self.k < 0.0) or np.any(self.s < 0.0):
            raise InkError("K and S of an ink are 0 or more.")
        for array in (self.k, self.s, self.log_k_spread, self.log_s_spread):
            array.flags.writeable = False

    def k_uncertainty(self) -> NDArray[np.float64]:
        """Standard deviation of log K, shape (inks, bands): 0.1 is a tenth more or less."""
        deviation: NDArray[np.float64] = np.sqrt((self.log_k_spread**2).sum(axis=0))
        return deviation

    def s_uncertainty(self) -> NDArray[np.float64]:
        """Standard deviation of log S, shape (inks, bands)."""
        deviation: NDArray[np.float64] = np.sqrt((self.log_s_spread**2).sum(axis=0))
        return deviation


def known_inks(
    names: Sequence[str], k: ArrayLike, s: ArrayLike, *, log_spread: float = 0.0, in_step: bool = True
) -> InkOptics:
    """Inks of given K and S, shape (inks, bands), with one uncertainty, ``log_spread``, of log K and log S.

    ``in_step`` moves all bands of an ink together, as an unknown strength does; else each by itself.

    >>> inks = known_inks(["rose"], [[0.2] * 36], [[0.05] * 36], log_spread=0.3)
    >>> float(inks.k_uncertainty()[0, 0].round(3))
    0.3
    """
    absorb, scatter = np.array(k, dtype=np.float64, ndmin=2), np.array(s, dtype=np.float64, ndmin=2)
    count, bands = absorb.shape
    steps = np.repeat(np.eye(count)[:, :, None], bands, axis=2) if in_step else _each_by_itself(count, bands)
    return InkOptics(tuple(names), absorb, scatter, log_spread * steps, log_spread * steps)


def together(*known: InkOptics) -> InkOptics:
    """Inks that were found apart as one set; their uncertainties have nothing to do with each other.

    >>> rose, blue = (known_inks([n], [[0.2] * 36], [[0.05] * 36], log_spread=0.1) for n in ("rose", "blue"))
    >>> together(rose, blue).log_k_spread.shape
    (2, 2, 36)
    """
    if not known:
        raise InkError("At least one ink is needed.")
    k, s = (np.concatenate(parts) for parts in ([one.k for one in known], [one.s for one in known]))
    directions = sum(len(one.log_k_spread) for one in known)
    log_k, log_s = np.zeros((directions, *k.shape)), np.zeros((directions, *k.shape))
    row = ink = 0
    for one in known:
        place = (slice(row, row + len(one.log_k_spread)), slice(ink, ink + len(one.names)))
        log_k[place], log_s[place] = one.log_k_spread, one.log_s_spread
        row, ink = row + len(one.log_k_spread), ink + len(one.names)
    return InkOptics(tuple(name for one in known for name in one.names), k, s, log_k, log_s)


def with_film_variation(inks: InkOptics, variation: float = FILM_VARIATION) -> InkOptics:
    """The same inks as they will be printed: each film thicker or thinner by ``variation``, independently.

    A thicker film is the same as more K and S. Raises InkError when the variation is below 0.

    >>> inks = with_film_variation(known_inks(["rose"], [[0.2] * 36], [[0.05] * 36]), 0.1)
    >>> float(inks.s_uncertainty()[0, 0].round(3))
    0.1
    """
    if not 0.0 <= variation < float("inf"):
        raise InkError("The variation of a film is 0 or more; 0.03 is three in a hundred.")
    count, bands = inks.k.shape
    films = variation * np.repeat(np.eye(count)[:, :, None], bands, axis=2)
    return InkOptics(
        inks.names,
        inks.k,
        inks.s,
        np.concatenate([inks.log_k_spread, films]),
        np.concatenate([inks.log_s_spread, films]),
    )


def predicted(inks: InkOptics, predict: Prediction) -> NDArray[np.float64]:
    """The reflectance, shape (36,), that a rule predicts from the inks as they are known."""
    return predict(inks.k, inks.s)


def uncertainty_delta_e00(inks: InkOptics, predict: Prediction, *, light: Light = "D65") -> float:
    """How far off a prediction may be, as root mean square in CIEDE2000, for what is uncertain of its inks.

    About two of three predictions lie nearer than this to the truth, if two-constant theory holds for the
    inks; where it does not (see the mixtures of the documentation), its own error comes on top. First order:
    each direction is followed both ways and halved.

    >>> from blockwright.colour.layers import layer_reflectance
    >>> inks = known_inks(["rose"], [[0.5] * 36], [[0.02] * 36], log_spread=0.1)
    >>> one_pass = lambda k, s: layer_reflectance(k[..., 0, :], s[..., 0, :], 1.0, 0.8)
    >>> round(uncertainty_delta_e00(inks, one_pass), 1)
    2.2
    """
    middle = reflectance_to_lab(predict(inks.k, inks.s), light)
    if not len(inks.log_k_spread):
        return 0.0
    up, down = (
        reflectance_to_lab(
            predict(inks.k * np.exp(sign * inks.log_k_spread), inks.s * np.exp(sign * inks.log_s_spread)),
            light,
        )
        for sign in (1.0, -1.0)
    )
    moves = (up - down) / 2.0
    sizes, axes = np.linalg.eigh(moves.T @ moves)
    steps = (axes * np.sqrt(np.maximum(sizes, 0.0))).T
    apart = (delta_e00(middle, middle + steps) + delta_e00(middle, middle - steps)) / 2.0
    return float(np.sqrt((apart**2).sum()))


def _each_by_itself(count: int, bands: int) -> NDArray[np.float64]:
    return np.eye(count * bands).reshape(count * bands, count, bands)

"""K and S of inks from patches: printed over white, better also over black, in one to three passes, or mixed.

All patches of a fit are explained at once, in the least-squares sense, by log K and log S of every ink and
band and by one unknown for each patch, how much thicker its film was than meant. What the patches leave open
is decided by what is known beforehand: a scattering of a usual size that changes little from band to band,
and films that vary little. Over white alone K is well known and S is hardly more than that; over black S
shows. An opaque paint hides both grounds and tells K / S only: its strength shows in a test mix with another.

Levenberg's and Marquardt's method (Marquardt, *Journal of the Society for Industrial and Applied Mathematics*
11, 1963); the layer is Kubelka's (:mod:`blockwright.colour.layers`), mixtures add by amount. The covariance
is the inverse of the least-squares matrix, magnified where the patches fit worse than their noise allows.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.bands import BAND_COUNT, checked_bands
from blockwright.colour.difference import delta_e00
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.optics import FILM_VARIATION, InkOptics
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.surface import Surface, body_reflectance, seen_reflectance
from blockwright.model.errors import InkError

MEASURED_NOISE = 0.003
"""Standard deviation of a spectrophotometer's reflectance on an uneven print, 0 to 1 [CP]."""

SCANNED_NOISE = 0.02
"""The same for a smooth reflectance made from a scanned colour, which is a guess of the spectrum [CP]."""

USUAL_S = 0.05
"""Scattering of a film of one pass that is expected beforehand; between the transparent rose of Curtis et
al., SIGGRAPH 1997 (0.03) and a gouache."""

S_FACTOR = 8.0
"""One standard deviation of that expectation is a factor of this much: dye to chalk."""

S_STEP = 0.15
"""Standard deviation of the step of log S from one band of 10 nm to the next [CP]."""

_USUAL_K, _K_FACTOR = 0.3, 50.0
"""Expected absorption and one standard deviation as a factor: so wide that it only keeps K above 0."""

_DERIVATIVE_STEP = 1e-5
"""Step of log K and log S for derivatives by central differences."""

_LEAST_DEVIATION = 1e-4
"""Least standard deviation of a body reflectance: below it the layer itself is not true to the print."""

_MOST_STEPS = 200
_SETTLED = 1e-6
"""The search ends when a step makes the sum of squares smaller by less than this part of it."""

_MOST_DAMPING = 1e8
"""With more damping a step is too short to matter."""


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """One measured patch: ``reflectance`` and that of its bare ``ground``, shape (36,), 0 to 1.

    ``amounts`` of each ink of the fit in the film of one pass, ``thickness`` in films of one pass (see
    :func:`blockwright.colour.films.film_thickness`), ``film_variation`` as a part (standard deviation): a
    large one lets the fit find the thickness. ``noise`` is the standard deviation of its reflectance where it
    is another than the fit's.
    """

    reflectance: NDArray[np.float64]
    ground: NDArray[np.float64]
    amounts: tuple[float, ...] = (1.0,)
    thickness: float = 1.0
    film_variation: float = FILM_VARIATION
    name: str = "the patch"
    noise: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class InkFit:
    """The inks, and how well they explain the patches.

    ``thickness`` is each patch's film as found; ``residual_delta_e00`` how far each patch is from what the
    inks predict for it; ``noise_factor`` by how much (1 or more) the uncertainty was magnified.
    """

    inks: InkOptics
    thickness: tuple[float, ...]
    residual_delta_e00: tuple[float, ...]
    noise_factor: float


def fit_inks(
    names: Sequence[str],
    patches: Sequence[Patch],
    *,
    noise: float = MEASURED_NOISE,
    surface: Surface | None = None,
    usual_s: float = USUAL_S,
    s_factor: float = S_FACTOR,
) -> InkFit:
    """Find K and S of inks, with their uncertainty, from patches of them and of their mixtures.

    ``noise`` is the standard deviation of a measured reflectance. With ``surface`` its reflection is taken
    off patches and grounds first; K and S then are those of the body. ``usual_s`` and ``s_factor`` are what
    is known of S beforehand: its size and one standard deviation as a factor.

    Raises InkError when a patch has wrong bands or amounts, an ink is in no patch, or the noise is 0 or less.
    """
    problem = _Problem.of(names, patches, noise=noise, surface=surface, usual_s=usual_s, s_factor=s_factor)
    found = _search(problem)
    residuals, matrix = problem.residuals_and_jacobian(found)
    free = matrix.shape[0] - matrix.shape[1]
    noise_factor = float(np.sqrt(max(1.0, residuals @ residuals / free)))
    covariance = np.linalg.inv(matrix.T @ matrix) * noise_factor**2
    inks, count = len(names), len(names) * BAND_COUNT
    sizes, axes = np.linalg.eigh(covariance[: 2 * count, : 2 * count])
    spread = (axes * np.sqrt(np.maximum(sizes, 0.0))).T.reshape(-1, 2, inks, BAND_COUNT)
    k, s, films = problem.parts(found)
    predicted = layer_reflectance(*problem.film(k, s, films), problem.ground)
    if surface is not None:
        predicted = seen_reflectance(predicted, surface)
    seen = np.stack([patch.reflectance for patch in patches])
    apart = delta_e00(reflectance_to_lab(predicted), reflectance_to_lab(seen))
    return InkFit(
        InkOptics(tuple(names), k, s, spread[:, 0].copy(), spread[:, 1].copy()),
        tuple(films.tolist()),
        tuple(apart.tolist()),
        noise_factor,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """The patches as arrays; unknowns are log K, then log S, of ink by band, then log film of each patch."""

    measured: NDArray[np.float64]
    ground: NDArray[np.float64]
    deviation: NDArray[np.float64]
    amounts: NDArray[np.float64]
    thickness: NDArray[np.float64]
    film_variation: NDArray[np.float64]
    usual_log_s: float
    log_s_factor: float

    @staticmethod
    def of(
        names: Sequence[str],
        patches: Sequence[Patch],
        *,
        noise: float,
        surface: Surface | None,
        usual_s: float,
        s_factor: float,
    ) -> "_Problem":
        _check(names, patches, noise=noise, usual_s=usual_s, s_factor=s_factor)
        seen = np.stack([checked_bands(patch.reflectance, name=patch.name) for patch in patches])
        grounds = np.stack(
            [checked_bands(patch.ground, name=f"the ground of {patch.name}") for patch in patches]
        )
        own = np.array([noise if patch.noise is None else patch.noise for patch in patches])
        deviation = np.broadcast_to(own[:, None], seen.shape)
        if surface is not None:
            body = body_reflectance(seen, surface)
            grounds = body_reflectance(grounds, surface)
            # How much of the seen noise the body has: the slope of the correction.
            slope = (1.0 - surface.outside) * (1.0 - surface.inside) / (1.0 - surface.inside * body) ** 2
            seen, deviation = body, deviation / slope
        return _Problem(
            seen,
            grounds,
            np.maximum(deviation, _LEAST_DEVIATION),
            np.array([patch.amounts for patch in patches], dtype=np.float64),
            np.array([patch.thickness for patch in patches], dtype=np.float64),
            np.array([patch.film_variation for patch in patches], dtype=np.float64),
            float(np.log(usual_s)),
            float(np.log(s_factor)),
        )

    def parts(
        self, unknowns: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """K and S, shape (inks, bands), and the thickness of each patch."""
        inks = self.amounts.shape[1]
        count = inks * BAND_COUNT
        log_k, log_s = unknowns[: 2 * count].reshape(2, inks, BAND_COUNT)
        return np.exp(log_k), np.exp(log_s), self.thickness * np.exp(unknowns[2 * count :])

    def film(
        self, k: NDArray[np.float64], s: NDArray[np.float64], films: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """K, S, shape (patches, bands), and thickness, shape (patches, 1), of each patch's film."""
        return self.amounts @ k, self.amounts @ s, films[:, None]

    def start(self) -> NDArray[np.float64]:
        """A first guess: the usual S, and K by Beer and Lambert's law from the patch richest in each ink."""
        richest = (self.amounts / self.amounts.sum(axis=1, keepdims=True)).argmax(axis=0)
        depth = -np.log(np.maximum(self.measured, 1e-3) / np.maximum(self.ground, 1e-3))
        k = np.maximum(depth[richest] / 2.0 / self.thickness[richest, None], 1e-2)
        log_s = np.full(k.size, self.usual_log_s)
        return np.concatenate([np.log(k).ravel(), log_s, np.zeros(len(self.thickness))])

    def residuals_and_jacobian(
        self, unknowns: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """What is left unexplained, in standard deviations: the patches first, then the expectations."""
        k, s, films = self.parts(unknowns)
        mix_k, mix_s, thick = self.film(k, s, films)
        step = np.exp(_DERIVATIVE_STEP)

        def reflect(factor_k: float, factor_s: float) -> NDArray[np.float64]:
            return layer_reflectance(mix_k * factor_k, mix_s * factor_s, thick, self.ground)

        by_k = (reflect(step, 1.0) - reflect(1.0 / step, 1.0)) / (2.0 * _DERIVATIVE_STEP * self.deviation)
        by_s = (reflect(1.0, step) - reflect(1.0, 1.0 / step)) / (2.0 * _DERIVATIVE_STEP * self.deviation)
        patches, inks = self.amounts.shape
        count = inks * BAND_COUNT
        data = np.zeros((patches, BAND_COUNT, len(unknowns)))
        bands = np.arange(BAND_COUNT)
        for ink in range(inks):
            part = self.amounts[:, ink, None]
            data[:, bands, ink * BAND_COUNT + bands] = by_k * part * k[ink] / mix_k
            data[:, bands, count + ink * BAND_COUNT + bands] = by_s * part * s[ink] / mix_s
        # A thicker film is more K and more S.
        for patch in range(patches):
            data[patch, :, 2 * count + patch] = by_k[patch] + by_s[patch]
        missed = (reflect(1.0, 1.0) - self.measured) / self.deviation
        expected, expectations = self._expectations(unknowns)
        return (
            np.concatenate([missed.ravel(), expected]),
            np.concatenate([data.reshape(-1, len(unknowns)), expectations]),
        )

    def _expectations(self, unknowns: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        patches, inks = self.amounts.shape
        count = inks * BAND_COUNT
        eye = np.eye(len(unknowns))
        steps = np.diff(eye[count : 2 * count].reshape(inks, BAND_COUNT, -1), axis=1)
        # The size of S is one expectation for the whole ink, not one for each band.
        mean_s = eye[count : 2 * count].reshape(inks, BAND_COUNT, -1).mean(axis=1)
        rows = [
            eye[:count] / np.log(_K_FACTOR),
            mean_s / self.log_s_factor,
            steps.reshape(-1, len(unknowns)) / S_STEP,
            eye[2 * count :] / self.film_variation[:, None],
        ]
        wanted = [
            np.full(count, np.log(_USUAL_K) / np.log(_K_FACTOR)),
            np.full(inks, self.usual_log_s / self.log_s_factor),
            np.zeros(len(rows[2])),
            np.zeros(patches),
        ]
        matrix = np.concatenate(rows)
        return matrix @ unknowns - np.concatenate(wanted), matrix


def _search(problem: _Problem) -> NDArray[np.float64]:
    """The unknowns with the least sum of squares."""
    here = problem.start()
    residuals, matrix = problem.residuals_and_jacobian(here)
    cost, damping = float(residuals @ residuals), 1e-2
    for _ in range(_MOST_STEPS):
        normal, downhill = matrix.T @ matrix, matrix.T @ residuals
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -downhill)
        # Logarithms: more than a factor of e^2 at once is a leap in the dark.
        there = here + np.clip(step, -2.0, 2.0)
        new_residuals, new_matrix = problem.residuals_and_jacobian(there)
        new_cost = float(new_residuals @ new_residuals)
        if new_cost >= cost:
            damping *= 4.0
            if damping > _MOST_DAMPING:
                break
            continue
        gained = (cost - new_cost) / cost
        here, residuals, matrix, cost = there, new_residuals, new_matrix, new_cost
        damping = max(damping / 5.0, 1e-9)
        if gained < _SETTLED:
            break
    return here


def _check(
    names: Sequence[str], patches: Sequence[Patch], *, noise: float, usual_s: float, s_factor: float
) -> None:
    if not names or not patches:
        raise InkError("A fit needs at least one ink and one patch.")
    if noise <= 0.0 or usual_s <= 0.0 or s_factor <= 1.0:
        raise InkError("Noise and usual scattering are above 0, and the factor of the scattering above 1.")
    for patch in patches:
        if len(patch.amounts) != len(names):
            raise InkError(
                f"{len(names)} inks are fitted, but {patch.name} has {len(patch.amounts)} amounts."
            )
        if min(patch.amounts) < 0.0 or max(patch.amounts) <= 0.0:
            raise InkError(f"The amounts of ink in {patch.name} are 0 or more, and one is above 0.")
        if patch.thickness <= 0.0 or patch.film_variation <= 0.0:
            raise InkError(f"Thickness and variation of the film of {patch.name} are above 0.")
        if patch.noise is not None and patch.noise <= 0.0:
            raise InkError(f"The noise of {patch.name} is above 0.")
    for ink, name in enumerate(names):
        if all(patch.amounts[ink] == 0.0 for patch in patches):
            raise InkError(f"No patch has any {name} in it.")

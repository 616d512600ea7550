"""Coefficients tabulated over angle of attack, sideslip and both brakes, for the equations of motion."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from parasim.aerodynamics.look_up import LookUpTable, linear_at, look_up
from parasim.rotations import FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class AeroTable:
    """Coefficients over angle of attack, sideslip and both brakes, with rate derivatives.

    Smooth in angle of attack and sideslip (cubic through the knots), linear in each brake between knots.

    Attributes
    ----------
    alpha : ndarray, shape (n_alpha,)
        Knots over the full circle, the first and last the same angle. [rad]
    beta : ndarray, shape (n_beta,)
        Knots from -pi/2 to pi/2. [rad]
    brake : ndarray, shape (n_brake,)
        Knots from zero up at even steps, fractions of full travel. [-]
    steady : ndarray, shape (n_alpha, n_beta, n_brake, n_brake, 6)
        CX, CY, CZ, Cl, Cm, Cn without rotation; brakes left, then right. [-]
    rates : ndarray, shape (n_alpha, 6, 3)
        Derivatives by roll, pitch and yaw rate times span, chord and span over twice the airspeed, without
        sideslip and brake. [-]
    area, span, chord : float
        References. [m²], [m]
    unconverged : int
        States in the table whose strips did not all meet their polar.
    air_density : float
        At which Reynolds number and leakage were taken; read only where there are tables for thinner air.
        [kg/m³]
    thinner : tuple of AeroTable
        The same for thinner air, one thinner than the other.
    """

    alpha: FloatArray
    beta: FloatArray
    brake: FloatArray
    steady: FloatArray
    rates: FloatArray
    area: float
    span: float
    chord: float
    unconverged: int
    air_density: float = 1.0
    thinner: tuple["AeroTable", ...] = ()

    @cached_property
    def for_look_up(self) -> LookUpTable:
        """The same laid out for compiled look-ups."""
        tables = (self, *self.thinner)
        return LookUpTable(
            alpha=self.alpha,
            beta=self.beta,
            alpha_cubic=cubic_weights(self.alpha, period=2 * np.pi),
            beta_cubic=cubic_weights(self.beta),
            thinness=-np.log([table.air_density for table in tables]),
            steady=np.stack([_beyond_ends(_round(table.steady)) for table in tables]),
            rates=np.stack([_round(table.rates) for table in tables]),
            brake_step=float(self.brake[1]) if len(self.brake) > 1 else 1.0,
            area=self.area,
            span=self.span,
            chord=self.chord,
        )

    def look_up(self, alpha: float, beta: float, left: float, right: float) -> tuple[FloatArray, FloatArray]:
        """Coefficients and rate derivatives at one condition.

        Parameters
        ----------
        alpha, beta : float
            Any angle of attack in [-pi, pi], sideslip in [-pi/2, pi/2]. [rad]
        left, right : float
            Brakes, fractions of full travel; held to the knots' range. [-]

        Returns
        -------
        coefficients : ndarray, shape (6,)
            CX, CY, CZ, Cl, Cm, Cn. [-]
        rates : ndarray, shape (6, 3)
            Derivatives, as the table holds them. [-]
        """
        at = self.for_look_up, alpha, beta, left, right
        steady = look_up(*at, 1.0, (0.0, 0.0, 0.0), self.air_density)
        spins = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
        rates = [look_up(*at, 0.0, spin, self.air_density) for spin in spins]
        return np.array(steady), np.array(rates).T

    def symmetric(self, alpha: FloatArray, brake: float) -> FloatArray:
        """Coefficients without sideslip, both brakes alike: as `look_up`, for many angles at once.

        Parameters
        ----------
        alpha : ndarray, shape (n,)
            [rad]
        brake : float
            Both brakes, fraction of full travel. [-]

        Returns
        -------
        ndarray, shape (n, 6)
            CX, CY, CZ, Cl, Cm, Cn. [-]
        """
        table = self.for_look_up
        straight = table.steady[0, :, table.steady.shape[2] // 2]
        k, t, counting = linear_at(len(self.brake), table.brake_step, brake)
        share, end = np.array([1 - t, t])[:counting], k + counting
        at_knots = np.einsum("l,r,alrc->ac", share, share, straight[:, k:end, k:end])
        weights = table.alpha_cubic
        i = np.clip(np.searchsorted(self.alpha, alpha, side="right") - 1, 0, len(self.alpha) - 2)
        gone = (alpha - self.alpha[i]) / (self.alpha[i + 1] - self.alpha[i])
        powers = gone[:, None] ** np.arange(4)
        return np.einsum("np,npk,nkc->nc", powers, weights[i], at_knots[i[:, None] + np.arange(4)])


def _round(values: FloatArray) -> FloatArray:
    """With one more knot at either end of alpha, which runs round the circle."""
    return np.concatenate([values[-2:-1], values, values[1:2]])


def _beyond_ends(values: FloatArray) -> FloatArray:
    """With the knots at either end of beta once more, where no cubic reads them."""
    return np.concatenate([values[:, :1], values, values[:, -1:]], axis=1)


def cubic_weights(knots: FloatArray, period: float | None = None) -> FloatArray:
    """Weights of the cubic through uneven knots whose slopes are those of the parabola through three.

    Parameters
    ----------
    knots : ndarray, shape (n,)
        Rising.
    period : float, optional
        The first and last knot are the same point; else the end slopes are one-sided.

    Returns
    -------
    ndarray, shape (n - 1, 4, 4)
        For interval i, row k: weights of the values at knots i - 1 to i + 2 on the k-th power of the part of
        the interval gone by.
    """
    step = np.diff(knots)
    before = step[-1:] if period else step[:1]
    after = step[:1] if period else step[-1:]
    h0, h1, h2 = np.concatenate([before, step[:-1]]), step, np.concatenate([step[1:], after])
    zero, one = np.zeros_like(step), np.ones_like(step)
    # Slopes times the interval at its two ends, as weights of the four values.
    low = np.stack([-h1 / h0 * h1 / (h0 + h1), (h1 - h0) / h0, h0 / (h0 + h1), zero], axis=-1)
    high = np.stack([zero, -h2 / (h1 + h2), (h2 - h1) / h2, h1 / h2 * h1 / (h1 + h2)], axis=-1)
    if not period:
        low[0] = [0, -1, 1, 0]
        high[-1] = [0, -1, 1, 0]
    p0 = np.stack([zero, one, zero, zero], axis=-1)
    p1 = np.stack([zero, zero, one, zero], axis=-1)
    return np.stack([p0, low, 3 * (p1 - p0) - 2 * low - high, 2 * (p0 - p1) + low + high], axis=1)

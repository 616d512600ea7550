"""Turbulence and discrete gust of MIL-F-8785C (1980), low altitude, Dryden form.

Formulas from memory, unverified, as they stand in the docstrings below; heights and lengths are in feet
there. The spectra are one-sided, over the wave number along the path; L and sigma belong to each component.
What is checked is ours end to end: scales, filters, random numbers, interpolation. Where a figure comes by
chance the tolerance follows from the number of averages, four standard deviations wide.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad, trapezoid
from scipy.signal import freqs

from parasim.environment.gust import Gusts, gust_at, turbulence_scales
from parasim.environment.turbulence import SAMPLES, STEPS, many_series, splines_through, turbulence_filter

FOOT = 0.3048
MEMBERS = 4000


def spectrum_along(wave_number):
    """Phi_u = sigma^2 (2 L / pi) 1 / (1 + (L W)^2), here with L = sigma = 1."""
    return 2.0 / np.pi / (1.0 + wave_number**2)


def spectrum_across(wave_number):
    """Phi_v, Phi_w = sigma^2 (L / pi) (1 + 3 (L W)^2) / (1 + (L W)^2)^2, likewise."""
    return (1.0 + 3.0 * wave_number**2) / (1.0 + wave_number**2) ** 2 / np.pi


SPECTRA = (spectrum_along, spectrum_across, spectrum_across)
PERIODS = (STEPS[0], STEPS[0], STEPS[1])


def correlation(spectrum, distance):
    """Of a published spectrum, by quadrature: the integral of Phi cos(W x)."""
    if distance == 0.0:
        return quad(spectrum, 0.0, np.inf)[0]
    return quad(spectrum, 0.0, np.inf, weight="cos", wvar=distance, limlst=200)[0]


@pytest.fixture(scope="module")
def series():
    """Shape (members, 3, samples)."""
    return many_series(np.random.SeedSequence(8785).spawn(MEMBERS))


@pytest.mark.parametrize(
    ("height", "L_u", "ratio"),
    [
        # By logarithms: 0.177 + 0.000823 h is 0.18523 at 10 ft, 0.2593 at 100 ft, 1.000 at 1000 ft.
        (10 * FOOT, 75.639 * FOOT, 1.9630),
        (100 * FOOT, 505.169 * FOOT, 1.7158),
        (1000 * FOOT, 1000.0 * FOOT, 1.0),
        (50.0, 202.29, 1.593),
        (0.0, 75.639 * FOOT, 1.9630),
        (500.0, 1000.0 * FOOT, 1.0),
    ],
)
def test_scales(height, L_u, ratio):
    """L_w = h, L_u = h / (0.177 + 0.000823 h)^1.2, sigma_u / sigma_w = 1 / (0.177 + 0.000823 h)^0.4."""
    found = turbulence_scales(height)
    assert found[0] == pytest.approx(L_u, rel=5e-5)
    assert found[1] == pytest.approx(min(max(height, 10 * FOOT), 1000 * FOOT), rel=1e-12)
    assert found[2] == pytest.approx(ratio, abs=5e-4)


@pytest.mark.parametrize("component", range(3))
def test_correlation_between_samples_is_that_of_the_spectrum(component):
    """No chance in it: what the filter makes of noise is linear, so its covariance is that matrix squared."""
    step, n = PERIODS[component], 80
    response = turbulence_filter(np.eye(5 * n).reshape(-1, 5, n), STEPS)[:, component]
    covariance = response.T @ response
    for lag in (0, 1, 2, 7, 30, 79):
        wanted = correlation(SPECTRA[component], lag * step)
        # Quadrature of an oscillating tail: about 1e-8.
        np.testing.assert_allclose(np.diagonal(covariance, lag), wanted, atol=1e-6)


def test_components_do_not_correlate():
    n = 40
    response = turbulence_filter(np.eye(5 * n).reshape(-1, 5, n), STEPS)
    for one, other in ((0, 1), (0, 2), (1, 2)):
        np.testing.assert_array_equal(response[:, one].T @ response[:, other], 0.0)


def test_filters_in_the_library_have_these_spectra():
    """Noise of intensity 2 and 1 through 1 / (1 + s) and (1 + sqrt(3) s) / (1 + s)^2, by scipy."""
    wave_number = np.geomspace(0.01, 100.0, 50)
    along, across = freqs([1], [1, 1], wave_number)[1], freqs([3**0.5, 1], [1, 2, 1], wave_number)[1]
    np.testing.assert_allclose(2.0 * abs(along) ** 2 / np.pi, spectrum_along(wave_number), rtol=1e-12)
    np.testing.assert_allclose(abs(across) ** 2 / np.pi, spectrum_across(wave_number), rtol=1e-12)


@pytest.mark.parametrize("component", range(3))
def test_spectrum_of_the_samples(series, component):
    """Periodograms of whole series under Hann's window, averaged over members.

    Each bin of one is chi-squared with two degrees of freedom, so the average of N strays by 1 / sqrt(N). The
    window mixes in neighbouring bins, which where the spectrum bends, from the fourth bin on, makes less
    than 2 %; aliasing makes less than 1 % as far as looked at here, an eighth of the Nyquist wave number.
    """
    step, window = PERIODS[component], np.hanning(SAMPLES + 1)[:-1]
    power = np.abs(np.fft.rfft(series[:, component] * window)) ** 2
    density = power.mean(axis=0) * step / (np.pi * (window**2).sum())
    wave_number = 2.0 * np.pi * np.fft.rfftfreq(SAMPLES, step)
    looked_at = slice(4, SAMPLES // 16)
    wanted = SPECTRA[component](wave_number[looked_at])
    np.testing.assert_allclose(density[looked_at], wanted, rtol=4.0 / MEMBERS**0.5 + 0.03)


@pytest.mark.parametrize("component", range(3))
def test_variance_of_the_samples(series, component):
    """The average square over length T strays by sqrt(2 integral of R^2 / T), over all members' lengths."""
    lags = np.linspace(0.0, 20.0, 2001)
    R = np.exp(-lags) * (1.0 if component == 0 else 1.0 - lags / 2.0)
    length = MEMBERS * (SAMPLES - 1) * PERIODS[component]
    deviation = np.sqrt(2.0 * 2.0 * trapezoid(R**2, lags) / length)
    assert (series[:, component] ** 2).mean() == pytest.approx(1.0, abs=4.0 * deviation)


def met(series, height, airspeed, n, sigma_w):
    """Gusts met in level flight at given moments of many members: along, across, down; and the moments' step.

    The mean wind is from the west, so that along is east and across, to its right, south.
    """
    L_u, L_w, _ = turbulence_scales(height)
    rates = airspeed / L_u, airspeed / L_w
    found = np.empty((3, len(series), n))
    # Moments that never hit a sample again and again.
    step = 0.0317 * L_w / airspeed
    for member, samples in enumerate(series):
        gusts = Gusts.none()._replace(deviation=sigma_w, splines=splines_through(samples))
        for k in range(n):
            xi = rates[0] * k * step, rates[1] * k * step
            north, east, down, *_ = gust_at(gusts, 0.0, height, *xi, *rates, 0.0, 3.0)
            found[:, member, k] = east, -north, down
    return found, step


def test_variances_met_fifty_metres_up(series):
    """sigma_u and sigma_v of 1.593 sigma_w, less the little that interpolation loses (at most 0.5 and 1 %).

    One moment of each member, so that the average square of N strays by sqrt(2 / N).
    """
    members = 1000
    found, _ = met(series[:members, :, :8], 50.0, 9.0, 2, sigma_w=0.4)
    wanted = np.array([0.4 * 1.593, 0.4 * 1.593, 0.4]) ** 2
    np.testing.assert_allclose(
        (found[:, :, 1] ** 2).mean(axis=1), wanted, rtol=4 * (2 / members) ** 0.5 + 0.01
    )


@pytest.mark.parametrize(("component", "wanted"), [(0, 202.29), (1, 202.29 / 2), (2, 25.0)])
def test_integral_scale_fifty_metres_up(component, wanted):
    """Integral of the correlation over distance: L_u along, half of L_v and L_w across (pi/2 of Phi(0))."""
    n, step = 700, 0.02
    response = turbulence_filter(np.eye(5 * n).reshape(-1, 5, n), (step, step))[:, component]
    covariance = response.T @ response[:, 0]
    L = turbulence_scales(50.0)[0 if component < 2 else 1]
    # exp(-14) is left beyond; the trapezoids make 1e-4.
    assert trapezoid(covariance, dx=step * L) == pytest.approx(wanted, rel=2e-4)
    assert L * np.pi / 2 * SPECTRA[component](0.0) == pytest.approx(wanted, rel=1e-4)


def test_discrete_gust():
    """V = V_m / 2 (1 - cos(pi x / d_m)) up to d_m, then V_m: at a quarter, half and whole of 24 m, 6 m/s."""
    gusts = Gusts.none()._replace(speed=6.0, north=1.0, start=2.0, rise_time=24.0 / 8.0)
    times = 2.0 + np.array([-1.0, 0.0, 6.0, 12.0, 24.0, 100.0]) / 8.0
    found = [gust_at(gusts, t, 20.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)[0] for t in times]
    assert found == pytest.approx([0.0, 0.0, 3.0 - 3.0 / 2**0.5, 3.0, 6.0, 6.0], abs=1e-12)

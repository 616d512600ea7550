"""Section polars: look-up, continuity, limits, and the user's own sections."""

import time

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.interpolate import RegularGridInterpolator

from parasim.aerodynamics import section_extension, section_network
from parasim.aerodynamics.section import build_section_polar, build_section_polar_from_coordinates
from parasim.cache import cache_directory
from parasim.errors import DesignError, ParasimError
from parasim.geometry.airfoil import FAMILIES, build_outline

RNG = np.random.default_rng(7)


@pytest.fixture(scope="module")
def polar():
    return build_section_polar(family="flat-bottomed", thickness=0.16, reynolds=2.5e5)


def test_look_up_is_bilinear(polar):
    """Against scipy's general interpolator on the same grid."""
    alpha, deflection = RNG.uniform(-np.pi, np.pi, 500), RNG.uniform(0, np.radians(120), 500)
    for mine, table in zip(
        polar.coefficients(alpha, deflection), (polar.cl, polar.cd, polar.cm), strict=True
    ):
        reference = RegularGridInterpolator((polar.deflection, polar.alpha), table)
        assert_allclose(mine, reference(np.column_stack([deflection, alpha])), atol=1e-10)


def test_look_up_broadcasts_and_takes_scalars(polar):
    alpha, deflection = np.linspace(-1, 1, 12).reshape(4, 3), np.array([0.0, 0.3, 0.6])
    for array in polar.coefficients(alpha, deflection):
        assert array.shape == (4, 3)
    one = polar.coefficients(float(alpha[2, 1]), 0.3)
    assert_allclose([float(c) for c in one], [c[2, 1] for c in polar.coefficients(alpha, deflection)])
    assert polar.coefficients(alpha[:, :1], deflection)[0].shape == (4, 3)


def test_angles_wrap_and_slopes_are_held(polar):
    assert_allclose(polar.coefficients(0.1 + 2 * np.pi, 0.2), polar.coefficients(0.1, 0.2))
    assert_allclose(polar.coefficients(0.1, -0.2), polar.coefficients(0.1, 0.0))
    assert_allclose(polar.coefficients(0.1, 9.0), polar.coefficients(0.1, np.radians(120)))


def test_lift_and_slope_is_the_derivative_of_the_lift(polar):
    alpha, deflection = RNG.uniform(-3.1, 3.1, 200), RNG.uniform(0, 2, 200)
    lift, gradient = polar.lift_and_slope(alpha, deflection)
    assert_allclose(lift, polar.coefficients(alpha, deflection)[0])
    cell = np.floor(np.degrees(alpha)) + 0.5
    before, after = (polar.coefficients(np.radians(cell + d), deflection)[0] for d in (-0.4, 0.4))
    assert_allclose(gradient, (after - before) / np.radians(0.8), atol=1e-8)


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("reynolds", [3e4, 1e5, 3e5, 2e6])
def test_continuous_everywhere(family, reynolds):
    """No jumps, wherever the laws take over from one another.

    A degree of alpha: thin-aerofoil lift 0.11, 8 /rad (0.14) where the table ends, up to 1.5 times that in
    deep brake: 0.21. Five degrees of brake: thin-aerofoil lift 0.25 and 1.5 degrees of shifted range: 0.42.
    """
    polar = build_section_polar(family=family, thickness=0.15, reynolds=reynolds)
    for table in (polar.cl, polar.cd, polar.cm):
        assert_allclose(table[:, 0], table[:, -1], atol=1e-9)
        assert np.max(np.abs(np.diff(table, axis=1))) < 0.21
        assert np.max(np.abs(np.diff(table, axis=0))) < 0.42
        assert np.all(np.isfinite(table))
    assert np.all(polar.cd > 0)


def test_fast_enough_for_a_newton_loop(polar):
    """30 000 points; 1.2 ms were measured, the limit is loose for a busy machine."""
    alpha, deflection = RNG.uniform(-0.2, 0.4, (1000, 30)), RNG.uniform(0, 1, (1000, 30))
    best = min(timed(polar.coefficients, alpha, deflection) for _ in range(20))
    assert best < 0.02


def timed(function, *arguments):
    start = time.perf_counter()
    function(*arguments)
    return time.perf_counter() - start


def test_polar_is_read_only(polar):
    for array in (polar.alpha, polar.deflection, polar.cl, polar.cd, polar.cm):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1.0


def test_caveats(polar):
    assert polar.caveats == ()
    slow = build_section_polar(family="symmetric", thickness=0.15, reynolds=2e4)
    assert any("2e+04 is outside the section tables" in caveat for caveat in slow.caveats)


def test_trusted_range_and_stall_make_sense(polar):
    low, high = np.degrees(polar.trusted_alpha)
    assert -16 < low < -5
    assert 10 < high <= 20.001
    assert 8 < np.degrees(polar.stall_alpha) < 22


def test_between_table_points_the_polar_lies_between(polar):
    thin, mid, thick = (
        build_section_polar(family="symmetric", thickness=t, reynolds=2e5) for t in (0.15, 0.16, 0.17)
    )
    inside = slice(172, 190)
    assert_allclose(mid.cl[0, inside], (thin.cl[0, inside] + thick.cl[0, inside]) / 2, atol=1e-9)


def test_flat_plate_figure_can_be_set():
    for wanted in (1.17, section_extension.PLATE_NORMAL_FORCE_2D):
        polar = build_section_polar(
            family="symmetric", thickness=0.15, reynolds=2e5, plate_normal_force=wanted
        )
        assert float(polar.coefficients(np.pi / 2)[1]) == pytest.approx(wanted)


@pytest.mark.parametrize(
    ("family", "thickness", "words"),
    [
        ("round", 0.15, "use one of flat-bottomed"),
        ("symmetric", 0.3, "outside the symmetric table; use 0.09 to 0.21"),
        ("naca23015", 0.12, "outside the naca23015 table; use 0.15"),
    ],
)
def test_what_is_not_in_the_tables_is_refused(family, thickness, words):
    with pytest.raises(DesignError, match=words):
        build_section_polar(family=family, thickness=thickness, reynolds=2e5)


@pytest.fixture
def own_section(tmp_path, monkeypatch):
    monkeypatch.setenv("PARASIM_CACHE", str(tmp_path / "cache"))
    path = tmp_path / "own.dat"
    np.savetxt(path, build_outline("symmetric", 0.15), header="own section", comments="")
    return path


def test_own_section_needs_the_network_once(own_section, monkeypatch):
    """The table of a file equals the shipped one of the same shape, and is kept for the next time."""
    pytest.importorskip("neuralfoil", reason="neuralfoil (parasim[sections]) is not installed")
    said: list[str] = []
    mine = build_section_polar_from_coordinates(own_section, 2e5, progress=said.append)
    shipped = build_section_polar(family="symmetric", thickness=0.15, reynolds=2e5)
    inside = slice(170, 190)
    assert_allclose(mine.cl[0, inside], shipped.cl[0, inside], atol=0.01)
    assert_allclose(mine.cd[0, inside], shipped.cd[0, inside], atol=5e-4)
    assert len(said) == 1

    monkeypatch.setattr(section_network, "_network", lambda: pytest.fail("the cache was not used"))
    again = build_section_polar_from_coordinates(own_section, 2e5, progress=said.append)
    assert_allclose(again.cl, mine.cl)
    assert len(said) == 1


def test_own_section_without_the_network_says_what_to_install(own_section, monkeypatch):
    def missing(name):
        raise ImportError(name)

    monkeypatch.setattr("importlib.import_module", missing)
    with pytest.raises(ParasimError, match=r"pip install 'parasim\[sections\]'"):
        build_section_polar_from_coordinates(own_section, 2e5)


def test_damaged_or_unwritable_cache_does_no_harm(own_section, tmp_path, monkeypatch):
    outline_table = section_network.SectionTable(
        cl=np.zeros((9, 7, 43)),
        cd=np.full((9, 7, 43), 0.02),
        cm=np.zeros((9, 7, 43)),
        confidence=np.ones((9, 7, 43)),
        trusted=np.tile([-0.2, 0.3], (9, 7, 1)),
    )
    monkeypatch.setattr(section_network, "_network", lambda: None)
    monkeypatch.setattr(section_network, "evaluate_section", lambda outline: outline_table)
    quiet = {"progress": lambda text: None}
    section_network.table_of_file(own_section, **quiet)
    (kept,) = cache_directory("sections").iterdir()
    kept.write_bytes(b"PK damaged")
    assert_allclose(section_network.table_of_file(own_section, **quiet).cd, 0.02)
    assert kept.stat().st_size > 100
    blocked = tmp_path / "file"
    blocked.write_text("not a directory")
    monkeypatch.setenv("PARASIM_CACHE", str(blocked))
    assert_allclose(section_network.table_of_file(own_section, **quiet).cd, 0.02)

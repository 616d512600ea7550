"""Builds scripts/motion.c and flies members of an ensemble with it, to measure compiled Python against."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Sequence
from ctypes import CDLL, POINTER, Structure, byref, c_double, c_long, c_void_p
from pathlib import Path

import numpy as np

from parasim.dynamics.flown_brakes import INSTANT
from parasim.dynamics.motion import CONSTANTS
from parasim.dynamics.simulate import ABSOLUTE_TOLERANCE, GUST_TOLERANCE, LONGEST_FLIGHT, RELATIVE_TOLERANCE
from parasim.environment.wind import POWER
from parasim.flight.ensemble import Member
from parasim.rotations import FloatArray

SOURCE = Path(__file__).with_name("motion.c")
N_STATES = 15
MOST_MOVES = 32
TOLERANCES = np.append(ABSOLUTE_TOLERANCE[:13], GUST_TOLERANCE)
OPTIONS = (("-O3",), ("-O3", "-march=native", "-ffp-contract=fast"))


class CFlight(Structure):
    """As `Flight` in motion.c."""

    _fields_ = [
        ("constants", c_void_p),
        *((name, c_long) for name in ("n_alpha", "n_beta", "n_brake")),
        *((name, c_void_p) for name in ("alpha", "beta", "alpha_cubic", "beta_cubic", "steady", "rates")),
        *((name, c_double) for name in ("brake_step", "area", "span", "chord")),
        ("n_bodies", c_long),
        ("bodies", c_void_p),
        *(
            (name, c_double)
            for name in ("wind_speed", "wind_from", "reference_height", "exponent", "turn", "deviation")
        ),
        ("n_samples", c_long),
        ("splines", c_void_p),
        ("step_horizontal", c_double),
        ("step_vertical", c_double),
        ("place", c_double * 3),
        ("n_timed", c_long),
        ("n_by_height", c_long),
        ("timed", c_void_p),
        ("by_height", c_void_p),
        ("rtol", c_double),
        ("atol", c_double * N_STATES),
        ("longest", c_double),
    ]


class CTold(Structure):
    """As `Told` in motion.c."""

    _fields_ = [
        ("ending", c_long),
        ("steps", c_long),
        ("time", c_double),
        ("largest_alpha", c_double),
        ("largest_beta", c_double),
    ]


class Prepared:
    """A member laid out for C; holds the arrays that C reads.

    Raises
    ------
    ValueError
        For what the C version cannot do.
    """

    def __init__(self, member: Member, place: Sequence[float], rtol: float = RELATIVE_TOLERANCE) -> None:
        (constants, table, bodies, wind), gusts = member.flight.motion, member.flight.gusts
        if wind.law != POWER or gusts.speed != 0.0 or constants["payload_mass"] > 0.0:
            raise ValueError("the C version knows neither other winds, nor a discrete gust, nor a joint")
        if len(member.timed) + len(member.by_height) > MOST_MOVES:
            raise ValueError(f"the C version has room for {MOST_MOVES} moves of the brakes")
        if len(member.timed) + len(member.by_height) > 1 and member.flight.servo != INSTANT:
            raise ValueError("the C version knows no servos that take their time")
        self.state = member.state
        arrays = {
            "alpha": table.alpha,
            "beta": table.beta,
            "alpha_cubic": table.alpha_cubic,
            "beta_cubic": table.beta_cubic,
            "steady": table.steady,
            "rates": table.rates,
            "bodies": bodies,
            "splines": gusts.splines,
            "timed": member.timed,
            "by_height": member.by_height,
        }
        self.arrays = {name: np.ascontiguousarray(array) for name, array in arrays.items()}
        self.arrays["constants"] = np.array(constants, dtype=CONSTANTS)
        self.flight = CFlight(
            **{name: array.ctypes.data for name, array in self.arrays.items()},
            n_alpha=len(table.alpha),
            n_beta=len(table.beta),
            n_brake=table.steady.shape[2],
            **{name: getattr(table, name) for name in ("brake_step", "area", "span", "chord")},
            n_bodies=len(bodies),
            wind_speed=wind.speed,
            wind_from=wind.from_direction,
            **{name: getattr(wind, name) for name in ("reference_height", "exponent", "turn")},
            deviation=gusts.deviation,
            n_samples=gusts.splines.shape[1],
            step_horizontal=gusts.step_horizontal,
            step_vertical=gusts.step_vertical,
            place=(c_double * 3)(*place),
            n_timed=len(member.timed),
            n_by_height=len(member.by_height),
            rtol=rtol,
            atol=(c_double * N_STATES)(*(TOLERANCES * (rtol / RELATIVE_TOLERANCE))),
            longest=LONGEST_FLIGHT,
        )


class PlainC:
    """The motion built by gcc, in a directory of its own.

    Parameters
    ----------
    directory : Path
        Where to.
    options : sequence of str
        Of the compiler.
    """

    def __init__(self, directory: Path, options: Sequence[str] = OPTIONS[0]) -> None:
        library = directory / f"motion{'_'.join(options)}.so"
        command = ["gcc", "-std=c11", *options, "-shared", "-fPIC", "-o", str(library), str(SOURCE), "-lm"]
        subprocess.run(command, check=True)
        self._fly = CDLL(str(library)).fly
        self._fly.argtypes, self._fly.restype = [POINTER(CFlight), c_void_p], CTold

    def fly(self, prepared: Prepared) -> tuple[FloatArray, CTold]:
        """Last state, shape (15,), and what `parasim.dynamics.runge_kutta.fly` tells."""
        state = prepared.state.copy()
        return state, self._fly(byref(prepared.flight), state.ctypes.data)


def has_compiler() -> bool:
    """Whether gcc is there."""
    return shutil.which("gcc") is not None

"""It will not flare: what takes away what the flare of the design gains."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from parasim.aerodynamics.factors import build_ranges
from parasim.dynamics.vehicle import Vehicle, with_factors
from parasim.errors import OptionError
from parasim.flight.flare.descent import Pull, build_flare_descent
from parasim.flight.flare.flare import HEIGHT_ERROR, WHOLE_DESCENT, Flare, flare
from parasim.flight.trim import find_trims
from parasim.flight.trouble import flaring_words as words
from parasim.flight.trouble.check import DESIGN, Cause, Curve, Figure, Findings, Words, ranked, sized
from parasim.flight.trouble.pitch import BRAKES, MASS, MOST_MASS, changed, rigged, row_causes
from parasim.rotations import FloatArray
from parasim.units import show

LOST = 0.5
"""Part of the flare's gain in sink that counts as lost where no sink is given. Our choice. [-]"""

# Likely sizes, and up to which they are sought: our choice by common practice, no source.
LATE, MOST_LATE = 0.2, 3.0
"""By which the servos take longer: load, a low battery. [s]"""
MOST_HEIGHT = 6.0
"""Of the start, too high. [m]"""
GUST, MOST_GUST = 1.0, 5.0
"""Step of the wind. [m/s]"""

STILL = np.zeros(3)


def flaring(vehicle: Vehicle, sink: float | None) -> Findings:
    """What makes the design's own best flare fail: to a sink at touchdown, or half of its gain. [m/s]

    Raises
    ------
    OptionError
        If it arrives so with the flare as designed.
    TrimError
        If it has no stable steady glide as designed.
    ConvergenceError
        If its motion could not be followed.
    """
    best = flare(vehicle)
    band = best.bands.figures["sink"]
    own, up = best.touchdown.sink, best.brakes_released.sink
    level = own + LOST * (up - own) if sink is None else sink
    if best.helps and level <= own:
        raise OptionError(
            f"SYMPTOM: given {show(level, 'speed')}, {vehicle.design.name} touches down with "
            f"{show(own, 'speed')} ({show(own, 'speed', 'imperial')}) of sink as designed; give more"
        )
    figure = Figure(
        words="sink at touchdown, flared", kind="speed", designed=own, level=level, low=band.low,
        high=band.high,
    )  # fmt: skip
    found = [sized(cause, figure) for cause in _causes(best)] if best.helps else [DESIGN]
    return Findings(
        figure=figure,
        checks=ranked([*found, *words.practices()]),
        facts=words.verdict(best),
        failures=() if best.helps else ("no pull of the brakes lands it softer than none",),
    )


def landed(
    vehicle: Vehicle, pull: Pull, height: float, *, higher: float = 0.0, gust: FloatArray = STILL
) -> float:
    """Sink at touchdown when a flare is done by another vehicle, or begun otherwise. [m/s]

    Parameters
    ----------
    vehicle : Vehicle
        That does it out of its own glide.
    pull : Pull
        Of the brakes.
    height : float
        At which it should begin. [m]
    higher : float
        By which it begins too high. [m]
    gust : ndarray, shape (3,)
        Step of the wind as it begins, as in `parasim.flight.flare.flare.FlareCase`. [m/s]
    """
    trim = find_trims(vehicle, modes=False).chosen
    descending = build_flare_descent(vehicle, trim, vehicle.model.straight_table)
    start = height + higher
    descent = descending.descend(pull, WHOLE_DESCENT, gust, depth=max(start, 0.0) + 1.0)
    return descent.touchdown(start).sink


def _causes(best: Flare) -> list[Cause]:
    vehicle, pull, height = best.vehicle, best.pull, best.start_height
    travel, play = vehicle.design.brakes.travel, vehicle.design.free_play
    mass = vehicle.design.payload.mass
    factor = next(r for r in build_ranges(vehicle.design) if r.name == "brake_lift_factor")
    own = vehicle.model.factors.brake_lift_factor

    def long(size: float) -> float:
        return landed(changed(vehicle, {"brakes.free_play": play + size}), pull, height)

    def weak(size: float) -> float:
        factors = replace(vehicle.model.factors, brake_lift_factor=own - size)
        return landed(with_factors(vehicle, factors), pull, height)

    along = rigged(vehicle, lambda one, _: landed(one, pull, height), nose_down=False)
    rows = row_causes(vehicle, along, nose_down=False)
    return [
        _cause("free play", words.FREE_PLAY, "small_length", BRAKES, long, 0.6 * travel),
        _cause(
            "short of travel", words.short(pull.fraction * travel), "small_length", BRAKES,
            lambda size: landed(vehicle, _shallower(pull, size / travel), height),
            0.7 * pull.fraction * travel,
        ),
        _cause(
            "slow servo", words.SLOW, "time", LATE,
            lambda size: landed(vehicle, _slower(pull, size), height), MOST_LATE,
        ),
        _cause(
            "too low", words.low(height), "length", HEIGHT_ERROR,
            lambda size: landed(vehicle, pull, height, higher=-size), height,
        ),
        _cause(
            "too high", words.high(height), "length", HEIGHT_ERROR,
            lambda size: landed(vehicle, pull, height, higher=size), MOST_HEIGHT,
        ),
        _cause(
            "gust down", words.gust("from above"), "wind_speed", GUST,
            lambda size: landed(vehicle, pull, height, gust=np.array([0.0, 0.0, size])), MOST_GUST,
        ),
        _cause(
            "gust from behind", words.gust("from behind"), "wind_speed", GUST,
            lambda size: landed(vehicle, pull, height, gust=np.array([size, 0.0, 0.0])), MOST_GUST,
        ),
        _cause(
            "payload's mass", words.mass(mass), "small_mass", MASS * mass,
            lambda size: landed(changed(vehicle, {"payload.mass": mass + size}), pull, height),
            MOST_MASS * mass,
        ),
        _cause(
            "brakes lift less", words.WEAK, "coefficient", (own - factor.low) / 2 or own / 4, weak,
            own - factor.low or own / 2,
        ),
        *(cause for cause in rows if cause.name == f"row {list(vehicle.line_set.straight)[-1]}"),
    ]  # fmt: skip


def _cause(
    name: str,
    said: Words,
    kind: str,
    likely: float,
    figure: Callable[[float], float],
    bound: float,
) -> Cause:
    return Cause(name=name, words=said, kind=kind, likely=likely, curve=Curve(figure, bound))


def _shallower(pull: Pull, fraction: float) -> Pull:
    """The same pull, ended short by a fraction of full travel."""
    return Pull(
        stages=tuple(replace(stage, fraction=max(stage.fraction - fraction, 0.0)) for stage in pull.stages)
    )


def _slower(pull: Pull, seconds: float) -> Pull:
    """The same pull, each stage taking so much longer. [s]"""
    return Pull(stages=tuple(replace(stage, over=stage.over + seconds) for stage in pull.stages))

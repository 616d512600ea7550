"""It opens hard: what raises the snatch or the load while it fills."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from parasim.caveats import Caveat
from parasim.dynamics.inflation import Opener
from parasim.dynamics.vehicle import Vehicle, in_wind
from parasim.environment.wind import Wind
from parasim.errors import OptionError
from parasim.flight.opening.opening import DELAYS, AtSpeed, at_speed, build_opener, open_case
from parasim.flight.opening.strength import checks as strengths
from parasim.flight.opening.strength import weakest
from parasim.flight.trim import find_trims
from parasim.flight.trouble import opening_words as words
from parasim.flight.trouble.check import DESIGN, Cause, Check, Curve, Figure, Findings, ranked, sized
from parasim.flight.trouble.pitch import MASS, MOST_MASS
from parasim.geometry.line_stock import build_line_stock
from parasim.units import show

HARDER = 1.5
"""Times the computed force that counts as hard where no force is given. Our choice. [-]"""

# Likely sizes, and up to which they are sought: our choice by common practice, no source.
SPEED, MOST_SPEED = 2.0, 30.0
"""Of the release. [m/s]"""
DELAY, MOST_DELAY = 0.5, 5.0
"""Of the fall until the pack opens. [s]"""
WATER = 0.020
"""Mass of dew and rain in the cloth. [kg]"""
PILOT = 0.3
"""Of the drag area of pack and pilot chute. [-]"""
STIFFER, MOST_STIFFER = 0.5, 9.0
"""Of the line: another make, another fibre. [-]"""

Force = Callable[[Vehicle, Opener, float], float]


def opening_hard(vehicle: Vehicle, force: float | None) -> Findings:
    """What makes a vehicle open hard: up to a force, or `HARDER` times the computed one. [N]

    Raises
    ------
    OptionError
        If it opens with as much as designed.
    DesignError, TrimError
        As from `parasim opening`.
    """
    vehicle = in_wind(vehicle, Wind.calm())
    spec, height = vehicle.design.opening, vehicle.design.drop.height
    now = at_speed(vehicle, spec.release_speed, height)
    snatch = now.designed.snatch[0] > now.designed.peak
    low, high = sorted(now.designed.snatch[1:]) if snatch else now.peak_band
    own = now.designed.snatch[0] if snatch else now.designed.peak
    level = HARDER * own if force is None else force
    if level <= own:
        raise OptionError(
            f"SYMPTOM: given {show(level, 'force', digits=0)}, {vehicle.design.name} opens with "
            f"{show(own, 'force', digits=0)} ({show(own, 'force', 'imperial', digits=0)}) as designed; "
            "give more"
        )
    figure = Figure(
        words="snatch of the lines" if snatch else "load while it fills", kind="force", designed=own,
        level=level, low=low, high=high,
    )  # fmt: skip

    def loaded(one: Vehicle, opener: Opener, speed: float) -> float:
        case = open_case(one, opener, speed)
        return case.snatch[0] if snatch else case.peak

    found = [sized(cause, figure) for cause in _causes(vehicle, loaded, height)]
    found += _missing(vehicle, loaded, figure, height)
    return Findings(
        figure=figure,
        checks=ranked([*found, *words.practices(spec.pack)]),
        facts=(words.loads(now.designed.snatch[0], now.designed.peak), *_weakest(vehicle, now)),
    )


def _causes(vehicle: Vehicle, force: Force, height: float) -> list[Cause]:
    spec = vehicle.design.opening
    opener = build_opener(vehicle, height=height)
    speed, delay = spec.release_speed, DELAYS[spec.pack] if spec.delay is None else spec.delay
    mass, filling = vehicle.design.payload.mass, spec.filling_constant

    def with_spec(**changes: object) -> Vehicle:
        design = vehicle.design.model_copy(update={"opening": spec.model_copy(update=changes)})
        return replace(vehicle, design=design)

    def cause(name: str, figure: Callable[[float], float], likely: float, bound: float, kind: str) -> Cause:
        return Cause(name=name, words=words.WORDS[name], kind=kind, likely=likely, curve=Curve(figure, bound))

    found = [
        cause(
            "release speed", lambda size: force(vehicle, opener, speed + size), SPEED, MOST_SPEED, "speed"
        ),
        cause(
            "payload's mass",
            lambda size: force(vehicle, replace(opener, payload_mass=mass + size), speed),
            MASS * mass, MOST_MASS * mass, "small_mass",
        ),
        cause(
            "wet cloth",
            lambda size: force(vehicle, replace(opener, canopy_mass=opener.canopy_mass + size), speed),
            WATER, opener.canopy_mass, "small_mass",
        ),
        cause(
            "quick filling",
            lambda size: force(
                vehicle,
                build_opener(vehicle, height=height, filling_constant=filling.value - size),
                speed,
            ),
            (filling.value - filling.low) / 2, filling.value - filling.low, "ratio",
        ),
        cause(
            "stiff line",
            partial(_stiffer, force, with_spec, _stiffness(vehicle), opener, speed),
            STIFFER, MOST_STIFFER, "ratio",
        ),
    ]  # fmt: skip
    if spec.pack != "static line":
        found.append(
            cause(
                "delay",
                lambda size: force(with_spec(delay=delay + size), opener, speed),
                DELAY,
                MOST_DELAY,
                "time",
            )
        )
        found += _pilot_causes(vehicle, force, opener, speed)
    return found


def _stiffer(
    force: Force,
    with_spec: Callable[..., Vehicle],
    own: float,
    opener: Opener,
    speed: float,
    size: float,
) -> float:
    return force(with_spec(line_stiffness=own * (1 + size)), opener, speed)


def _pilot_causes(vehicle: Vehicle, force: Force, opener: Opener, speed: float) -> list[Cause]:
    """The drag of pack and pilot chute, more or less of it."""
    own = opener.pack_drag_area
    causes = []
    for more in (True, False):

        def figure(size: float, more: bool = more) -> float:
            return force(vehicle, replace(opener, pack_drag_area=own + (size if more else -size)), speed)

        bound = min(2 * own, 0.9 * (opener.open_drag_area - own)) if more else 0.7 * own
        causes.append(
            Cause(
                name="pilot chute",
                words=words.pilot(more=more),
                kind="small_area",
                likely=PILOT * own,
                curve=Curve(figure, bound),
            )
        )
    return causes


def _missing(vehicle: Vehicle, force: Force, figure: Figure, height: float) -> list[Check]:
    """Slider or reefing that does not hold, where the design has one: it does, or it does not do it."""
    spec = vehicle.design.opening
    if not spec.slider and spec.reefing is None:
        return []
    free = build_opener(vehicle, height=height, slider=False, reefed=False)
    moved = force(vehicle, free, spec.release_speed)
    needed = 1.0 if moved >= figure.level else None
    share = (moved - figure.designed) / (figure.level - figure.designed)
    return [
        replace(
            DESIGN,
            name="held",
            words=words.held("slider" if spec.slider else "reefing"),
            needed=needed,
            low=1.0,
            high=1.0,
            likely=1.0,
            bound=1.0,
            share=share,
        )
    ]


def _stiffness(vehicle: Vehicle) -> float:
    """Tension over stretch as a ratio, of one line; of polyester where nothing is known. [N]"""
    lines, spec = vehicle.design.lines, vehicle.design.opening
    known = spec.line_stiffness or build_line_stock(lines).stiffness
    return known or build_line_stock(lines.model_copy(update={"material": "polyester"})).stiffness or 0.0


def _weakest(vehicle: Vehicle, now: AtSpeed) -> tuple[str, ...]:
    """The part with the least margin as designed, as `parasim opening` has it."""
    trim = find_trims(vehicle, modes=False).chosen
    found = weakest(strengths(vehicle, trim, opening=now.worst_peak, snatch=now.designed.snatch))
    if found is None or found.strength is None:
        return ()
    return (
        Caveat(
            f"Least margin as designed: the {found.part} at the {found.event}; the most loaded one "
            f"{'takes' if found.short else 'may take'} {{load}} and holds {{strength}}.",
            load=(found.judged_load, "force", 0), strength=(found.strength, "force", 0),
        ),
    )  # fmt: skip

"""What keeps a swing going, in words: the error, what to measure, what to do."""

from parasim.caveats import Caveat
from parasim.flight.trouble.check import Check, Words, practice


def hang(four_hooks: bool, *, lower: bool) -> Words:
    """Of the way from the lines down to the payload."""
    if four_hooks:
        return Words(
            error=f"hooks too {'high' if lower else 'low'} over the payload",
            measure="from the hooks down to where the loaded payload balances",
            remedy="stow what is heavy as the file has it, or write payload.suspension.height anew",
        )
    return Words(
        error=f"risers too {'long' if lower else 'short'}",
        measure="each riser from hook to the loops of the lines",
        remedy="sew them to lines.riser.length",
    )


def factor(name: str, *, up: bool) -> Words:
    """Of the calibration."""
    return Words(
        error=f"{name.replace('_', ' ')} {'above' if up else 'below'} the model's",
        measure="nothing on the bench: film a swing against the horizon, count its period and how it decays",
        remedy=f"set calibration.{name} so that `parasim glide` gives that swing",
    )


def mass(own: float, *, heavier: bool) -> Words:
    """Of the payload; as the file has it. [kg]"""
    return Words(
        error=f"payload {'heavier' if heavier else 'lighter'} than its file",
        measure=Caveat("all that hangs below the lines, with batteries: {mass}", mass=(own, "mass")),
        remedy="bring it to payload.mass, or write what it weighs and look again",
    )


def damping() -> Words:
    """Of the payload against its lines."""
    return Words(
        error="payload swings more freely than assumed",
        measure="hang it up, push it aside, count how many swings halve it",
        remedy="set payload.suspension.damping; spread the risers or add a second pair of hooks",
    )


def gusts(period: float, airspeed: float) -> Caveat:
    """At which length of gusts the air feeds a swing of a period [s] at an airspeed. [m/s]"""
    return Caveat(
        f"Gusts feed a swing of {period:.1f} s most where they follow each other every {{length}} of its way "
        "(airspeed times period).",
        length=(airspeed * period, "length", 0),
    )


def practices(has_servo: bool) -> tuple[Check, ...]:
    """What the trade looks at, and no model."""
    return (
        practice(
            "gusts",
            "gusts and thermals",
            "whether it rocks in the still air of the early morning",
            "leave it alone if it does not; count swings only in still air",
        ),
        practice(
            "steering",
            "steering in time with the swing" if has_servo else "brakes pulled in time with the swing",
            "brakes left at rest for ten periods: does it decay",
            "steer more slowly than the swing, less at a time, or with a dead band",
        ),
        practice(
            "loose payload",
            "something loose in the payload",
            "shake it by hand",
            "fasten it; part the room that liquids have",
        ),
    )

"""What takes the flare away, in words: the error, what to measure, what to do."""

from parasim.caveats import Caveat
from parasim.flight.flare.flare import Flare
from parasim.flight.trouble.check import Check, Words, practice

FREE_PLAY = Words(
    error="brake lines too long: more free play",
    measure="with the servos at rest, how far each brake line can be pulled before its edge moves, against "
    "brakes.free_play",
    remedy="shorten both lines by what is too much; leave the free play of the file",
)

SLOW = Words(
    error="servos slower than the flare assumes",
    measure="film the full pull on the ground, edge loaded by a helper; voltage of the battery under load",
    remedy="fresh battery, less line friction, or begin higher by what `parasim flare` then says",
)

WEAK = Words(
    error="brakes lift less than modelled",
    measure="nothing on the bench: compare a turn at half brake with `parasim turn`",
    remedy="set calibration.brake_lift_factor by your own flights and look for the flare anew",
)


def short(full: float) -> Words:
    """Of the travel that the flare asks for. [m]"""
    return Words(
        error="servos stop short of the pull",
        measure=Caveat("line drawn in at the flare's command: {full}", full=(full, "small_length", 0)),
        remedy="set end points and arm again; stretch in the line counts too",
    )


def low(height: float) -> Words:
    """Of the height at which it begins. [m]"""
    return Words(
        error="begun too low",
        measure=Caveat("height at the first pull, from film or log: {height}", height=(height, "length", 1)),
        remedy="set the height sensor's zero at the landing place; allow for its delay",
    )


def high(height: float) -> Words:
    """Of the height at which it begins. [m]"""
    return Words(
        error="begun too high",
        measure=Caveat("height at the first pull, from film or log: {height}", height=(height, "length", 1)),
        remedy="the same; a barometer drifts with the weather: set it shortly before",
    )


def gust(whence: str) -> Words:
    """While it flares."""
    return Words(
        error=f"a gust {whence}",
        measure="wind at the ground as it landed, from its heading; what stands upwind",
        remedy="land into the wind, clear of trees and houses; count several landings, not one",
    )


def mass(own: float) -> Words:
    """Of the payload; as the file has it. [kg]"""
    return Words(
        error="payload heavier than its file",
        measure=Caveat("all that hangs below the lines, with batteries: {mass}", mass=(own, "mass")),
        remedy="take off what is too much, or write payload.mass and look for the flare anew",
    )


def verdict(best: Flare) -> tuple[str, ...]:
    """What the flare of the design gains."""
    if not best.helps:
        return ("By `parasim flare` no pull of the brakes lands this design softer than none.",)
    stage = best.pull.stages[-1]
    return (
        Caveat(
            f"The design's own flare: both brakes to {100 * stage.fraction:.0f} % within {stage.over:.1f} s "
            "from {height}; it touches down with {sink} of sink, without it {up}.",
            height=(best.start_height, "length", 1), sink=(best.touchdown.sink, "speed"),
            up=(best.brakes_released.sink, "speed"),
        ),
        "Steady wind does not change the sink; wind from behind adds to the speed over the ground.",
    )  # fmt: skip


def practices() -> tuple[Check, ...]:
    """What the trade looks at, and no model."""
    return (
        practice(
            "command",
            "another command than its own flare",
            "brake, time and height of the command against `parasim flare`",
            "send those; write them into drop.brakes",
        ),
        practice(
            "crossed lines",
            "brake lines caught, crossed or slipping",
            "both edges must come down together and alike at full pull, on the ground, canopy held up",
            "clear and mark the lines; knots that do not slip",
        ),
    )

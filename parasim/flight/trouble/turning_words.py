"""What differs between left and right, in words: the error, what to measure, what to do."""

from parasim.caveats import Caveat
from parasim.config.payload import PayloadSpec
from parasim.flight.trouble.check import Check, Words, practice
from parasim.flight.trouble.symptom import Side

OTHER: dict[Side, Side] = {"left": "right", "right": "left"}

SHEET = "write the lengths into the sheet of `parasim lines --measured`, and re-tie what differs"
"""What to do about lines."""


def brake(free_play: float, side: Side) -> Words:
    """Of a brake line, and what its servo leaves pulled; its slack as designed. [m]"""
    return Words(
        error=f"{side} brake line short, servo not back",
        measure=Caveat(
            "with both servos at rest, how far each brake line can be pulled before its edge moves: "
            f"{{play}} on the {side} as on the {OTHER[side]}",
            play=(free_play, "small_length"),
        ),
        remedy="let the line out, or set the servo's zero, until both sides have that slack",
    )


def row(name: str, side: Side) -> Words:
    """Of one row, on the mean over a side."""
    return Words(
        error=f"row {name} shorter on the {side}",
        measure=f"the {name} lines of each pair of ribs side by side under one weight, from the tips inwards",
        remedy=SHEET,
    )


def all_lines(side: Side) -> Words:
    """Of all lines of a side alike."""
    return Words(
        error=f"all {side} lines shorter, or riser",
        measure=f"the risers hook to end, then a {side} and a {OTHER[side]} line of every row at one weight",
        remedy="sew the risers alike; " + SHEET,
    )


def pair(left: str, right: str, side: Side) -> Words:
    """Of the pair of lines that turns it most."""
    short, long = (left, right) if side == "left" else (right, left)
    return Words(
        error=f"line {short} shorter than {long}",
        measure=f"{short} against {long} under one weight, knots and loops too: of all pairs it turns most",
        remedy=SHEET,
    )


def aside(payload: PayloadSpec, side: Side) -> Words:
    """Of the payload's centre of mass."""
    half = payload.size[1] / 2
    return Words(
        error=f"payload's centre of mass to the {side}",
        measure=Caveat(
            "hung by its hooks, whether the payload hangs level, its balance point in the middle; {mass} "
            f"more at its {side} face move it {{step}}",
            mass=(payload.mass * 0.005 / (half - 0.005) if half > 0.005 else payload.mass, "small_mass", 0),
            step=(0.005, "small_length"),
        ),
        remedy=f"move battery or ballast to the {OTHER[side]}, or the hooks to the {side}",
    )


def twist(side: Side) -> Words:
    """Of the cloth, at the tips."""
    return Words(
        error=f"cloth twisted: {side} tip nose-down",
        measure=f"the {side} ribs laid on the {OTHER[side]} ones and on their templates: tabs, nose, tail",
        remedy="re-sew the tabs or panels that differ; where it cannot be, take it out with the lines",
    )


def drag(side: Side) -> Words:
    """At a tip."""
    return Words(
        error=f"something drags at the {side} tip",
        measure=f"from below in flight: a cell not filled, a tip folded, a loose end of line on the {side}",
        remedy="clear inlets and cross-ports, trim loose ends, fold and pack both tips alike",
    )


def practices(side: Side) -> tuple[Check, ...]:
    """What the trade looks at, and no model."""
    return (
        practice(
            "caught line",
            f"a {side} line caught, knotted or swapped",
            f"hang it up and lift each {side} line by itself from riser to tab",
            "clear it; pack with the lines in their order and under tension",
        ),
        practice(
            "wind",
            "wind that looks like a turn",
            "whether it turns as much on the opposite heading, in the still air of the early morning",
            "count only what both headings share",
        ),
    )

"""What changes the trim, in words: the error, what to measure, what to do."""

from collections.abc import Sequence

from parasim.caveats import Caveat
from parasim.flight.trouble.check import Check, Words, practice

SHEET = "write the lengths into the sheet of `parasim lines --measured`, and bring the row back"
"""What to do about lines."""


def row(rows: Sequence[str], name: str, *, longer: bool) -> Words:
    """Of a row on both sides, or of all rows of a riser."""
    size, other = ("long", "short") if longer else ("short", "long")
    if len(rows) == 1:
        return Words(
            error=f"row {rows[0]} too {size}",
            measure=f"the {rows[0]} lines of both sides under one weight, from riser end to tab",
            remedy=SHEET,
        )
    return Words(
        error=f"{name} too {size}, or {' and '.join(rows)}",
        measure=f"the {name} from hook to end, then the lines of {' and '.join(rows)} under one weight",
        remedy=f"re-sew the risers, or make the other ones as {other}; {SHEET}",
    )


def center(forward: bool, four_hooks: bool) -> Words:
    """Of the payload's centre of mass."""
    way = "forward" if forward else "back"
    why = "" if four_hooks else " (it hangs on one point and only tilts)"
    return Words(
        error=f"payload's centre of mass too far {way}",
        measure=f"where the loaded payload balances, against its hooks and its file{why}",
        remedy="move battery or ballast, or the hooks, back to the file's place",
    )


def hooks(apart: bool) -> Words:
    """Of front and rear hooks."""
    return Words(
        error=f"front and rear hooks too {'far apart' if apart else 'close'}",
        measure="from front to rear hook, along the payload",
        remedy="set the hooks where the file has them, or write their places into it and rig anew",
    )


FACTORS = ("moment_shift", "lift_factor", "extra_drag")
"""Factors of the calibration that sewing changes."""


def factor(name: str, *, up: bool) -> Words:
    """Of cloth and section."""
    if name == "moment_shift":
        return Words(
            error=f"section's moment more {'nose-up' if up else 'nose-down'}",
            measure="a sewn rib on its template: camber, nose, tail; inlets: do they stand open as drawn",
            remedy="nothing on the bench shows it: set calibration.moment_shift by the glide flown, and the "
            "rigging angle anew by `parasim glide`",
        )
    if name == "lift_factor":
        return Words(
            error=f"cloth lifts {'more' if up else 'less'} than modelled",
            measure="cells filled to the tips, cloth neither wet nor leaking, seams not puckered",
            remedy="dry it, patch it, clear the cross-ports; else set calibration.lift_factor",
        )
    return Words(
        error=f"cloth drags {'more' if up else 'less'} than modelled",
        measure="wrinkles, puckered seams, flapping edges, loose tails of line; from below in flight",
        remedy="trim and re-sew; else set calibration.extra_drag",
    )


def mass(own: float) -> Words:
    """Of the payload; as the file has it. [kg]"""
    return Words(
        error="payload heavier than its file",
        measure=Caveat("all that hangs below the lines, with batteries: {mass}", mass=(own, "mass")),
        remedy="take off what is too much, or write what it weighs into payload.mass and look again",
    )


def brakes(free_play: float) -> Words:
    """Of both brake lines; their slack as designed. [m]"""
    return Words(
        error="both brake lines short, servos not back",
        measure=Caveat(
            "with the servos at rest, how far each brake line can be pulled before its edge moves: {play}",
            play=(free_play, "small_length"),
        ),
        remedy="let both lines out, or set the servos' zero, until they have that slack",
    )


def practices(*, nose_down: bool) -> tuple[Check, ...]:
    """What the trade looks at, and no model."""
    if nose_down:
        return (
            practice(
                "sinking air",
                "sinking air, or the lee of something",
                "sink against a streamer let go beside it, or in the still air of the early morning",
                "fly it again in still air before you change anything",
            ),
            practice(
                "slipped tab",
                "rear knots slipped, or front lines shrunk",
                "pull every line at its tab; compare left with right, and with the marks of the line sheet",
                "re-tie with the knot of the build sheet, and mark it",
            ),
        )
    return (
        practice(
            "stretch",
            "front rows stretched, rear ones shrunk",
            "rows A and B against C and D, at the same weight, after some flights",
            "bring back the differences between the rows: they count, not the lengths",
        ),
        practice(
            "wet cloth",
            "wet or leaky cloth",
            "weigh the canopy dry and as flown; blow through the upper skin",
            "dry it; coat or change the panel that leaks",
        ),
    )

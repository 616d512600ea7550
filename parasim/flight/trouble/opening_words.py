"""What makes an opening hard, in words: the error, what to measure, what to do."""

from parasim.caveats import Caveat
from parasim.config.opening import Pack
from parasim.flight.trouble.check import Check, Words, practice

WORDS = {
    "release speed": Words(
        error="let go faster than the file has it",
        measure="airspeed of the carrier at the release, wind with it",
        remedy="slow down before the release, or write opening.release_speed",
    ),
    "payload's mass": Words(
        error="payload heavier than its file",
        measure="all that hangs below the lines, with batteries",
        remedy="take off what is too much, or write payload.mass and look again",
    ),
    "wet cloth": Words(
        error="canopy wet and heavy",
        measure="weigh it packed, against the mass budget of `parasim canopy`",
        remedy="dry it before you pack it",
    ),
    "quick filling": Words(
        error="it fills in fewer diameters",
        measure="film it: time from straight lines to full, times the speed, over the nominal diameter",
        remedy="slow it: slider or reefing, inlets folded inwards; write opening.filling_constant",
    ),
    "stiff line": Words(
        error="line stiffer by that part of itself",
        measure="hang a weight on a metre of it and measure the stretch",
        remedy="write opening.line_stiffness; use line that gives, or a shock cord in the risers",
    ),
    "delay": Words(
        error="it falls longer before the pack opens",
        measure="film it: time from release to the opening of the pack",
        remedy="shorten the pull, or open it by a static line",
    ),
}
"""By the name of the cause."""


def pilot(*, more: bool) -> Words:
    """Of pack and pilot chute."""
    return Words(
        error=f"pilot chute draws {'harder' if more else 'less'} than assumed",
        measure="its diameter, spread flat; whether it was open",
        remedy=f"use a {'smaller' if more else 'larger'} one, or write opening.drag_area",
    )


def held(by: str) -> Words:
    """Of what holds the filling."""
    return Words(
        error=f"the {by} did not hold",
        measure="where it was after the opening: burns on lines, grommets, knots",
        remedy=f"pack it up against the stops; replace a {by} that slips",
    )


def loads(snatch: float, peak: float) -> Caveat:
    """Both loads as designed. [N]"""
    return Caveat(
        "As designed the lines snatch with {snatch} as they come straight; it pulls {peak} while it fills.",
        snatch=(snatch, "force", 0),
        peak=(peak, "force", 0),
    )


def practices(pack: Pack) -> tuple[Check, ...]:
    """What the trade looks at, and no model."""
    bag = "the canopy left the bag before its lines"
    first = bag if pack == "bag" else "the canopy filled before its lines"
    return (
        practice(
            "line dump",
            first,
            "film it; look for lines that come out all at once",
            "stow the lines in tight loops, to be drawn out one after the other, canopy last",
        ),
        practice(
            "open nose",
            "packed with the nose in the wind",
            "unfold a pack: does the nose lie inside",
            "fold nose and tips inwards, tail around them",
        ),
    )

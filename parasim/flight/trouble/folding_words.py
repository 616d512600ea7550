"""What folds one half, in words: the error, what to measure, what to do."""

from math import degrees

from parasim.flight.trouble.check import Check, Words, practice

CRITERION = (
    "The margin is known for the middle of the span only; a half is taken to fold when any part of it has "
    "lost as much angle of attack [our choice, no source]. Gusts are the same all over the canopy here."
)


def margin(tuck: float) -> str:
    """What the middle of the span has in hand. [rad]"""
    return f"As designed the middle of the span is {degrees(tuck):.1f} deg over where its nose tucks."


def gust_down() -> Words:
    """From above."""
    return Words(
        error="a downward gust",
        measure="where it happened: lee of trees, houses, slopes; edges of thermals; wind near the ground",
        remedy="drop in less wind, away from what stands in it; a little brake holds the nose",
    )


def gust_aside(side: str) -> Words:
    """From a side."""
    return Words(
        error=f"a gust from {'that side' if side == 'that side' else 'the ' + side}",
        measure="wind by the hour and by height, against the heading it flew",
        remedy="drop in less wind, into it or with it rather than across",
    )


def row(name: str, side: str, *, longer: bool) -> Words:
    """Of one row of that half alone."""
    said = {"one": "that side"}.get(side, f"the {side}")
    return Words(
        error=f"row {name} too {'long' if longer else 'short'} on {said}",
        measure=f"the {name} lines of {said} against those of the other, under one weight",
        remedy="write the lengths into the sheet of `parasim lines --measured`, and re-tie what differs",
    )


def practices(side: str) -> tuple[Check, ...]:
    """What the trade looks at, and no model."""
    said = "that side" if side == "one" else f"the {side}"
    return (
        practice(
            "inlets",
            f"inlets of {said} shut, late tip cells",
            "blow it up by hand or on a kite line: do the tip cells stand as stiff as the middle ones",
            "open inlets and cross-ports, stiffen the lips; pack so that the nose opens first",
        ),
        practice(
            "caught line",
            f"a line of {said} over the canopy",
            "lift every line from riser to tab; look for burns on the cloth",
            "clear it; stow the lines in their order",
        ),
        practice(
            "released brake",
            "a brake let go at once, a hard turn",
            "the commands of the seconds before",
            "move the brakes more slowly",
        ),
    )

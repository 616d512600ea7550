"""What `parasim learn` says of the vehicle as built: before and after, and how it was taken over."""

from collections.abc import Iterator
from typing import Any

from parasim.files import file_stem
from parasim.learning.as_built import AsBuilt, Taken
from parasim.learning.learned import Learned
from parasim.report.column import Grid
from parasim.report.report import Block
from parasim.units import System, in_degrees, show, show_range


def built_headline(learned: Learned, system: System) -> str:
    """What was weighed and taken over, and what the glide makes of it; for notes of the ground alone."""
    built = learned.built
    assert built is not None
    said = [
        f"weighed {show(each.mass, each.kind, system)} {each.words}, "
        f"{show(each.designed, each.kind, system)} designed"
        for each in built.weighed
    ]
    said += [
        f"{each.words} {after_in_words(each, system)}" for each in built.taken if each.key not in WEIGHTS
    ]
    return f"{learned.vehicle.design.name} as built: {'; '.join(said)}{_glide_in_words(built, system)}"


WEIGHTS = ("lines.linear_density", "canopy.cloth.areal_weight", "payload.mass")
"""Keys that hold what follows from weights."""


def _glide_in_words(built: AsBuilt, system: System) -> str:
    """The steady glide as built and as designed; empty without one."""
    if built.trims is None:
        return ""
    before, after = (
        f"{show(trim.glide_ratio, 'ratio', system)} to 1, sinking at {show(trim.sink, 'speed', system)}"
        for trim in built.trims
    )
    return f". It glides {after}; as designed {before}"


def built_blocks(learned: Learned, system: System) -> Iterator[Block]:
    """Every figure as designed and as built; nothing where nothing was measured on the ground."""
    if learned.built is None:
        return
    yield Grid(
        rows=[taken_row(each, system) for each in learned.built.taken],
        heads=["measured on the ground", "design", "as built", "written as"],
        title="Taken over from the ground; flights are compared with the vehicle as built",
        note=" ".join(_notes(learned.built, file_stem(learned.vehicle.design.name), system)),
    )


def _notes(built: AsBuilt, stem: str, system: System) -> Iterator[str]:
    if any(each.bands is None for each in built.taken):
        yield "Weights and lengths stand in the place of what was assumed, errors as one deviation."
    if any(each.bands for each in built.taken):
        yield "Brake forces are weighed against the band expected, both bands two deviations each way."
    if built.rows:
        by_row = ", ".join(
            f"{row} {'-' if change <= -1e-4 else '+'}{show(abs(change), 'small_length', system, digits=2)}"
            for row, change in built.rows.items()
        )
        yield (
            f"Rows against the design, riser end to tab: {by_row}. {stem}_fitted.yaml repeats these lengths: "
            "cut a new line set by your own design file."
        )


def taken_row(taken: Taken, system: System) -> list[str]:
    """A figure before and after."""
    before = show(taken.before, taken.kind, system, digits=taken.digits)
    if taken.bands is not None:
        before += f" ({show_range(*taken.bands[0], taken.kind, system)})"
    return [taken.words, before, after_in_words(taken, system), taken.key]


def after_in_words(taken: Taken, system: System) -> str:
    """A figure as built, with its error or band."""
    after = show(taken.after, taken.kind, system, digits=taken.digits)
    if taken.bands is not None:
        return f"{after} ({show_range(*taken.bands[1], taken.kind, system)})"
    if not taken.error:
        return after
    error = show(taken.error, taken.kind, system, digits=taken.digits)
    return f"{after.partition(' ')[0]} ± {error}"


def built_document(learned: Learned) -> list[dict[str, Any]] | None:
    """As in `parasim.report.learn.learn_document`."""
    if learned.built is None:
        return None
    return [_taken_document(each) for each in learned.built.taken]


UNIT = {"force": "n", "angle": "deg", "tape_length": "m", "small_mass": "kg", "mass": "kg"}
"""Of a kind of quantity in keys."""


def _taken_document(taken: Taken) -> dict[str, Any]:
    turn, unit = in_degrees if taken.kind == "angle" else float, UNIT[taken.kind]
    found: dict[str, Any] = {
        "what": taken.words,
        "written_as": taken.key,
        f"design_{unit}": turn(taken.before),
        f"as_built_{unit}": turn(taken.after),
        f"error_{unit}": turn(taken.error),
    }
    if taken.bands is not None:
        found |= {f"design_band_{unit}": list(taken.bands[0]), f"as_built_band_{unit}": list(taken.bands[1])}
    return found

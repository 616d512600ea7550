"""The sheet for a day of flying: what to measure, with which tool, what to expect, and notes to fill in."""

from collections.abc import Iterator, Sequence
from math import inf, isfinite

from parasim.flight.turn.turn import TURN_CAUTIONS
from parasim.ladder.build_page import Pages
from parasim.ladder.checklists import NOBODY_BELOW, Checklist
from parasim.ladder.ladder import Rung
from parasim.learning.learned import FIGURES, Learned, Next
from parasim.learning.trials import CIRCLE_BRAKES, SWINGS
from parasim.report.column import Grid
from parasim.report.report import BOX, Block
from parasim.sewing.order.steps import Figure
from parasim.units import System, convert, label, show, show_range

SHORT = {"sink": "sink", "glide_ratio": "glide", "landing_speed": "speed", "turn_rate": "turn"}
"""Figures whose bands are to narrow, as heads of columns."""

WORTH = 0.05
"""Narrowing from which on it is worth a word. [-] Our choice."""

SETTLING = 5.0
"""Time left for a glide to become steady. [s] Our choice, no source."""

ON_THE_GROUND = (
    "Measured once on the sewn and rigged canopy, weights, line lengths and brake forces go into the notes "
    "as as_built: all flights are then compared with the canopy as it is, not as it was drawn."
)
"""Why some things that can be measured stand apart."""


def sheet_blocks(learned: Learned, units: System) -> Iterator[Block]:
    """The sheet as text: the answer first."""
    name = learned.vehicle.design.name
    yield f"{name}: {len(learned.nexts)} things to measure, from the ground upwards{next_sentence(learned)}"
    yield next_grid(learned, units)
    yield Grid(
        rows=[
            [
                in_words(each, units),
                each.trial.tool,
                *(f"{100 * each.together[key]:.0f} %" for key in FIGURES if key in each.together),
            ]
            for each in learned.nexts
        ],
        heads=["one after the other", "by", *(SHORT[each.key] for each in learned.wanted)],
        title="Narrowed by then, each with all above it",
    )
    yield ON_THE_GROUND
    for checklist in checklists(learned, units):
        yield "\n".join([f"{checklist.title}:", *(f"{BOX}{item}" for item in checklist.items)])
    yield (
        "--out DIR writes this sheet to print, with what to do and room for what was measured, and notes to "
        "fill in; then: parasim learn DESIGN NOTES"
    )


def next_sentence(learned: Learned) -> str:
    """What to measure next, and what it would narrow."""
    best = learned.best_next
    if best is None:
        return ""
    figure, part = best.best
    return (
        f"; next, {best.trial.words} narrows the {FIGURES[figure].partition(' at ')[0]} by {100 * part:.0f} %"
    )


def next_grid(learned: Learned, system: System) -> Grid:
    """What to measure next, and by how much each narrows what."""
    figures = [each.key for each in learned.wanted]
    rows: list[Sequence[str]] = [
        [
            in_words(each, system),
            reading(each, system),
            *(f"{100 * each.narrows[key]:.0f} %" for key in figures),
        ]
        for each in learned.nexts
    ]
    return Grid(
        rows=rows,
        heads=["what to measure next", "expect", *(SHORT[key] for key in figures)],
        title="Each alone would narrow the bands of sink, glide ratio, landing speed and of the turn rate at "
        "right 50 % by so much",
        note=" ".join(filter(None, (best_sentence(learned), short_sentence(learned)))),
    )


def reading(each: Next, system: System) -> str:
    """Range of what the tool will show; open where it may turn either way."""
    low, high = ends_of(each)
    if not isfinite(high):
        return f"{show(low, each.trial.kind, system)} or more"
    if each.trial.kind == "length":
        return f"{convert(low, 'length', system):.0f} to {show(high, 'length', system, digits=0)}"
    return show_range(low, high, each.trial.kind, system)


def ends_of(each: Next) -> tuple[float, float]:
    """Ends of what the tool will show, the upper one infinite where it may take for ever. [SI]"""
    low, high = sorted(each.trial.reading(end) for end in (each.expected.low, each.expected.high))
    return (low, inf) if each.trial.over and each.expected.low <= 0.0 <= each.expected.high else (low, high)


def in_words(each: Next, system: System) -> str:
    """A trial, with the height that it takes where that is chosen."""
    trial = each.trial
    if trial.circles or not trial.height or trial.key.startswith("swing"):
        return trial.words
    return f"{trial.words}, {show(trial.height, 'length', system, digits=0)}"


def short_sentence(learned: Learned) -> str:
    """Circles that take more height than there is."""
    flown = {each.trial.datum.right for each in learned.nexts if each.trial.circles}
    left_out = [f"{100 * brake:.0f} %" for brake in CIRCLE_BRAKES if brake not in flown]
    if not left_out:
        return ""
    return f"Not listed, for want of height or of a steady turn: circles at right {' and '.join(left_out)}."


def best_sentence(learned: Learned) -> str:
    """For each figure what would narrow it most."""
    found = []
    for wanted in learned.wanted:
        best = max(learned.nexts, key=lambda each: each.narrows[wanted.key], default=None)
        if best is not None and best.narrows[wanted.key] >= WORTH:
            found.append(f"{FIGURES[wanted.key]}: {best.trial.words}")
    return f"Best for the {'; for the '.join(found)}." if found else ""


def pages(learned: Learned, units: System) -> Pages:
    """The sheet to print."""
    vehicle = learned.vehicle
    return Pages(
        name=vehicle.design.name,
        facts=(
            f"All-up mass {show(vehicle.mass, 'mass', units)} in the design: weigh all that flies. "
            "What is expected is computed, with the band of two deviations.",
            ON_THE_GROUND,
        ),
        steps=(),
        rungs=tuple(_Rungs(learned, units).rung(each) for each in learned.nexts),
        checklists=checklists(learned, units),
        cautions=TURN_CAUTIONS,
        caveats=(),
        system=units,
    )


DENSITY: dict[System, str] = {
    "metric": "the pressure in pascal over 287 times the temperature in kelvin, in kg/m³",
    "imperial": "1.326 times the pressure in inHg over the temperature in °F plus 459.7, in lb/ft³",
}
"""Density of air. The gas constant of dry air is 287 J/(kg K), from memory; 1.326 is that converted."""


def checklists(learned: Learned, units: System) -> tuple[Checklist, ...]:
    """What to look after before anything is flown, and after."""
    travel = learned.vehicle.design.brakes.travel
    pulls = ", ".join(
        f"{100 * part:.0f} % {show(part * travel, 'tape_length', units)}" for part in (0.25, 0.5, 1.0)
    )
    return (
        Checklist(
            key="built",
            title="Once, as sewn and rigged",
            items=(
                "Canopy without its lines, on a scale: ______ ± ______",
                "The same with its lines: ______ ± ______",
                "Payload, all below the lines: ______ ± ______",
                "Lines: every length into the table that parasim lines DESIGN --out DIR writes.",
                "Brake lines, kited in a steady wind, a scale in one and both pulled alike: pull ______, "
                "force ______ ± ______, wind ______; at two pulls or more.",
            ),
        ),
        Checklist(
            key="before",
            title="Before the first flight of the day",
            items=(
                "Clock: the logger's time beside that of the camera or watch, to the second, written down.",
                "Zero height: logger on the ground where it will land, two minutes, what it shows written "
                "down.",
                "Mass: all that flies on one scale, as it flies.",
                "Air: temperature and pressure on the ground, and the hour; its density is "
                f"{DENSITY[units]}.",
                f"Brakes: both at their zero marks, alike; marks on the line at {pulls} of pull.",
                "Wind on the ground and where it comes from; wait for a calm, early or late in the day.",
            ),
        ),
        Checklist(
            key="after",
            title="After the last",
            items=(
                "Clock and zero height again, in the same place: what they drifted goes into the notes' "
                "errors.",
                "Notes filled in on the spot: what was measured, not what was meant to be.",
            ),
        ),
    )


class _Rungs:
    """What to do for each trial.

    Parameters
    ----------
    learned : Learned
        The design and what to expect.
    units : {"metric", "imperial"}
        Of sizes in sentences.
    """

    def __init__(self, learned: Learned, units: System) -> None:
        self.learned, self.units = learned, units

    def rung(self, each: Next) -> Rung:
        """One trial."""
        trial = each.trial
        do, measure, stop = getattr(self, f"_{trial.key.split()[0]}")(each)
        low, high = ends_of(each)
        narrowed = [
            f"{FIGURES[key]} {100 * part:.0f} %" for key, part in each.narrows.items() if part >= WORTH
        ]
        narrows = f" (narrows {', '.join(narrowed)})" if narrowed else ""
        return Rung(
            key=trial.key,
            title=f"{trial.words[0].upper()}{trial.words[1:]}{narrows}",
            do=do,
            measure=measure,
            stop=stop,
            figures=(
                Figure(
                    name=f"{in_words(each, self.units)}, by {trial.tool}",
                    value=trial.reading(each.expected.value), kind=trial.kind,
                    band=(low, high),
                    digits=0 if trial.kind == "length" else None,
                ),
            ),
        )  # fmt: skip

    def _kite(self, each: Next) -> tuple[tuple[str, ...], ...]:
        wind = show(each.trial.datum.wind, "wind_speed", self.units)
        return (
            (
                "Both riser ends on one spring scale, no payload, on open flat ground; gloves on.",
                f"Wait until the wind at the canopy's height is steady at about {wind}.",
            ),
            ("Pull and wind, five readings of each; write the wind that blew, not the one asked for.",),
            (
                "It drifts to one side: measure the lines first.",
                "The wind reaches the airspeed of the glide.",
            ),
        )

    def _descent(self, each: Next) -> tuple[tuple[str, ...], ...]:
        height = show(each.trial.height, "length", self.units, digits=0)
        return (
            (
                NOBODY_BELOW,
                f"Release into the wind, brakes released. After {SETTLING:.0f} s, when it glides steadily, "
                f"begin to time, over {height} or as much as there is.",
            ),
            ("Time, and height at its beginning and end: by logger, or camera and a mast of known height.",),
            self._stops(),
        )

    def _over(self, each: Next) -> tuple[tuple[str, ...], ...]:
        return (
            (NOBODY_BELOW, "Let it fly straight into the wind, hands off, to the ground."),
            (
                "Height where the steady glide began; way over the ground from below there to touchdown.",
                "Mean wind over that height: on the ground and, if you can, by a streamer or balloon above.",
            ),
            self._stops(),
        )

    def _swing(self, each: Next) -> tuple[tuple[str, ...], ...]:
        side = "one brake" if "sideways" in each.trial.key else "both brakes"
        return (
            (NOBODY_BELOW, f"Out of the steady glide pull {side} halfway for one second, and let go."),
            (f"Time of {SWINGS} swings, counted on video where they reverse.",),
            self._stops(),
        )

    def _half(self, each: Next) -> tuple[tuple[str, ...], ...]:
        return (
            (
                NOBODY_BELOW,
                f"Both brakes to {self._pull(0.5)} high up; after {SETTLING:.0f} s time the descent as "
                "before. Let go before the ground, or land so if the drops before went well.",
            ),
            ("Time and height, as before.",),
            ("It falls back or swings more and more: let go slowly.", *self._stops()),
        )

    def _circle(self, each: Next) -> tuple[tuple[str, ...], ...]:
        brake, height = each.trial.datum.right, show(each.trial.height, "length", self.units, digits=0)
        return (
            (
                NOBODY_BELOW,
                f"Right brake to {self._pull(brake)}, the left one released. Count once it turns steadily; "
                f"it takes about {height} of height.",
            ),
            ("Time of the circle by heading, on video or logger; and to which side.",),
            (
                "It turns away from the brake, banks beyond 45 deg or sinks twice as fast: let go at once.",
                *self._stops(),
            ),
        )

    def _pull(self, part: float) -> str:
        travel = self.learned.vehicle.design.brakes.travel
        return f"{100 * part:.0f} % ({show(part * travel, 'tape_length', self.units)})"

    def _stops(self) -> tuple[str, ...]:
        return ("Anybody is, or may come, where it can land, open or unopened, in any direction.",)


def notes_template(learned: Learned, system: System) -> str:
    """A notes file to fill in, each thing to measure on a line of its own."""
    vehicle, errors = learned.vehicle, learned.errors
    metre, speed = label("length", system), label("speed", system)
    height, distance = (
        f"{convert(x, 'length', system):.2g} {metre}" for x in (errors.height, errors.distance)
    )
    wind, air = (f"{convert(x, 'speed', system):.2g} {speed}" for x in (errors.wind, errors.air))
    density = show(vehicle.reference.air_density, "density", system)
    ounce, gram = label("small_mass", system), show(0.001, "small_mass", system)
    by_hand = [_noted(each, system) for each in learned.nexts if each.trial.key.split()[0] not in _BY_TOOL]
    measured = [_noted(each, system) for each in learned.nexts if each.trial.key.split()[0] in _BY_TOOL]
    return "\n".join(
        [
            f"# Notes on flights of {vehicle.design.name}. Take the # away before what you measured, write",
            "# your numbers for the dots; an entry for each time. Then: parasim learn DESIGN NOTES",
            "",
            "# One standard deviation of what is measured by hand. These are taken where you leave them out;",
            "# air is how fast the air itself may rise or sink.",
            f"errors: {{stopwatch: {errors.stopwatch:g} s, height: {height}, distance: {distance}, "
            f"circles: {errors.circles:g}, wind: {wind}, air: {air}}}",
            "",
            "# as_built:                # once, on the ground; error is one standard deviation",
            f"#   canopy_mass: {{mass: ... {ounce}, error: {gram}}}     # sewn, without its lines",
            f"#   finished_mass: {{mass: ... {ounce}, error: {gram}}}   # with its lines",
            f"#   payload_mass: {{mass: ... {label('mass', system)}, error: {gram}}}   # below the lines",
            "#   line_lengths: FILE      # that parasim lines DESIGN --out DIR writes, filled in",
            "#   brake_force:            # both brakes alike; airspeed: of the wind it is kited in",
            f"#     - {{pull: ... {label('tape_length', system)}, force: ... {label('force', system)}, "
            f"airspeed: ... {speed}, error: {show(0.2, 'force', system)}}}",
            "",
            "flights:",
            '  - name: "flight 1"        # no two alike',
            f"    # mass: {show(vehicle.mass, 'mass', system)}   # all that flew; left out: the design's",
            f"    # air_density: {density}   # left out: at the design's site",
            "    # clock and zero height of the logger, before and after: ...",
            "    by_hand:",
            *by_hand,
            "    # measured:              # by logger, scale or video; error is one standard deviation",
            *measured,
            "",
        ]
    )


_BY_TOOL = ("kite", "swing")


def _noted(each: Next, system: System) -> str:
    trial, datum = each.trial, each.trial.datum
    metre, speed = label("length", system), label("speed", system)
    brakes = {side: pull for side, pull in (("left", datum.left), ("right", datum.right)) if pull}
    pulled = "".join(f", {side}: {100 * pull:.0f} %" for side, pull in brakes.items())
    error = show(datum.error, datum.measurable.kind, system)
    line = {
        "kite": f"kite_pull: ... {label('force', system)}, error: {error}, wind: ... {speed}",
        "descent": f"height_lost: ... {metre}, in: ... s",
        "half": f"height_lost: ... {metre}, in: ... s{pulled}",
        "over": f"distance: ... {metre}, from: ... {metre}, wind: ... {speed}, upwind: true",
        "swing": f"swing_period: ... s, error: {error}" + f", swing: {trial.key.partition(' ')[2]}",
        "circle": f"circles: {trial.circles:g}, in: ... s{pulled}",
    }[trial.key.split()[0]]
    return f"    # - {{{line}}}   # {trial.words}"

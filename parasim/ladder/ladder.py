"""The test ladder: from a kite on the ground to a drop, what to expect on each rung and what ends it there.

Numbers that come from flight are handed in as plain numbers.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from parasim.ladder.checklists import NOBODY_BELOW
from parasim.ladder.expectations import Arrival, DropNumbers, FlightNumbers, Limits, OpeningNumbers
from parasim.sewing.order.steps import Figure
from parasim.units import FOOT, KNOT, System, show

KITE_WINDS: dict[System, tuple[float, ...]] = {
    "metric": (3.0, 4.0, 5.0, 6.0),
    "imperial": (6 * KNOT, 8 * KNOT, 10 * KNOT, 12 * KNOT),
}
"""Winds whose pull is reported, round in the units asked for. [m/s]"""

RUN_SPEEDS: dict[System, tuple[float, float]] = {"metric": (3.0, 5.0), "imperial": (10 * FOOT, 16 * FOOT)}
"""A brisk and a fast run, round too. [m/s] Common practice, no source."""

HOLDS_UP = 1.5
"""Wind over that which only carries the canopy, from which on it stands well. [-] Our choice, no source."""

REPEATS = 3
"""Good runs in a row before the next rung. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One rung of the ladder.

    Attributes
    ----------
    key, title : str
        A plain name, and in words.
    do, measure, stop : tuple of str
        What to do, what to measure, what ends the tests on this rung: sentences.
    figures : tuple of Figure
        What to expect.
    """

    key: str
    title: str
    do: tuple[str, ...]
    measure: tuple[str, ...]
    stop: tuple[str, ...]
    figures: tuple[Figure, ...]


def ladder(
    numbers: FlightNumbers, limits: Limits, *, pack: str, steered: bool, system: System
) -> tuple[Rung, ...]:
    """Rungs from the ground upwards.

    Parameters
    ----------
    numbers : FlightNumbers
        From flight.
    limits : Limits
        Of the payload.
    pack : str
        How the canopy is packed for the highest rung, as in the design.
    steered : bool
        Whether it has servos.
    system : {"metric", "imperial"}
        Of sizes in sentences.
    """
    build = _Ladder(numbers=numbers, limits=limits, pack=pack, steered=steered, system=system)
    balcony, low, high = numbers.drops
    return (
        build.kite(),
        build.run(),
        build.balcony(balcony),
        build.low(low),
        build.high(high),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ladder:
    numbers: FlightNumbers
    limits: Limits
    pack: str
    steered: bool
    system: System

    def say(self, value: float, kind: str, digits: int | None = None) -> str:
        return show(value, kind, self.system, digits=digits)

    def wind(self, value: float) -> str:
        return self.say(value, "wind_speed")

    @property
    def measured(self) -> str:
        """Where the limit of the wind is measured, if that is known."""
        height = self.numbers.wind_height
        return "" if height is None else f" at {self.say(height, 'length', 0)} above ground"

    def between(self, band: tuple[float, float], kind: str) -> str:
        return Figure(name="", value=band[0], kind=kind, band=band).shown_range(self.system)

    def kite(self) -> Rung:
        n = self.numbers
        stands = HOLDS_UP * n.carrying_wind
        return Rung(
            key="kite",
            title="Ground kite",
            do=(
                "Hold the riser ends, no payload, on open flat ground in a steady wind; gloves on.",
                f"From about {self.wind(stands)} on it should stand by itself, up to about "
                f"{self.say(n.glide_angle, 'angle', 0)} downwind of overhead.",
                "Let every cell fill. Pull one brake, then the other, then both; then let go of both.",
            ),
            measure=(
                "Wind at the canopy's height, and the pull with a spring scale between hand and riser ends.",
                "Whether it leans or drifts to one side with both brakes at their zero marks.",
            ),
            stop=(
                "A cell stays empty, the nose folds under, or lines cross.",
                "It keeps to one side: re-measure the lines, left against right.",
                "The pull leaves the table's range: check the wind meter, then the lines.",
                f"The wind reaches {self.wind(n.airspeed)}: it then pulls as hard as all that will hang "
                "from it.",
            ),
            figures=(
                Figure(name="wind that just carries the canopy", value=n.carrying_wind, kind="wind_speed"),
                *(self.pull_in(wind, "kited in", "wind_speed") for wind in self.kite_winds()),
                Figure(name="lines lean downwind of overhead", value=n.glide_angle, kind="angle"),
            ),
        )

    def kite_winds(self) -> list[float]:
        return [wind for wind in KITE_WINDS[self.system] if self.numbers.pull(wind) > 0]

    def pull_in(self, speed: float, words: str, kind: str) -> Figure:
        n = self.numbers
        low, high = (n.weight * (speed / v) ** 2 - n.canopy_weight for v in reversed(n.airspeed_band))
        return Figure(
            name=f"pull {words} {self.say(speed, kind)}",
            value=n.pull(speed),
            kind="force",
            band=(max(low, 0.0), max(high, 0.0)),
        )

    def run(self) -> Rung:
        n = self.numbers
        return Rung(
            key="run",
            title="Run, with dead weight",
            do=(
                "Run into a light wind with the canopy overhead and dead weight of the payload's mass "
                "carried in the other hand.",
                "What counts is the air past the canopy: your speed and the wind together.",
            ),
            measure=(
                "Speed and wind, the pull, and on video how fast the canopy comes overhead.",
                "Brakes at half: does it slow down evenly, without falling back?",
            ),
            stop=(
                "It overtakes you and folds, or hangs behind you and will not come up.",
                "It turns with both brakes even.",
                f"Air past the canopy reaches {self.say(n.airspeed, 'speed')}: it lifts all of its load.",
            ),
            figures=(
                *(
                    self.pull_in(speed, "running in still air at", "speed")
                    for speed in RUN_SPEEDS[self.system]
                ),
                Figure(
                    name="airspeed at which it carries all its load",
                    value=n.airspeed,
                    kind="speed",
                    band=n.airspeed_band,
                ),
                *self.half_brake(),
            ),
        )

    def half_brake(self) -> Iterator[Figure]:
        if self.numbers.half_brake is not None:
            airspeed, sink = self.numbers.half_brake
            yield Figure(name="airspeed, both brakes at half travel", value=airspeed, kind="speed")
            yield Figure(name="sink, both brakes at half travel", value=sink, kind="speed")

    def balcony(self, drops: DropNumbers) -> Rung:
        return Rung(
            key="balcony",
            title=f"Balcony, {self.height(drops)} up",
            do=(
                NOBODY_BELOW,
                "Dead weight in a padded bag, never the payload. Canopy held open and full, let go "
                "facing the wind; brakes tied at their zero marks.",
                *self.dive_words(drops),
                "What this rung shows is a straight, even start, not the glide.",
            ),
            measure=("Time from release to touchdown on video, and where it lands.",),
            stop=(
                "The canopy folds, twists, or starts off to one side.",
                *self.common_stops(drops),
            ),
            figures=tuple(self.drop_figures(drops)),
        )

    def height(self, drops: DropNumbers) -> str:
        return self.say(drops.height, "length", 0)

    def dive_words(self, drops: DropNumbers) -> Iterator[str]:
        dive = self.numbers.dive
        if dive is None:
            yield (
                "Let go from rest in still air its lines go slack in the first dive, and nothing is known of "
                "what follows: let go facing a wind."
            )
        elif dive > drops.height:
            yield (
                f"Let go from rest in still air it dives first and loses about {self.say(dive, 'length', 0)} "
                "before it glides: from here it lands in that dive. Wind ahead shortens it."
            )
        else:
            yield (
                f"Let go from rest in still air it dives first and loses about {self.say(dive, 'length', 0)} "
                "before it glides."
            )

    def low(self, drops: DropNumbers) -> Rung:
        return Rung(
            key="low",
            title=f"Drop from {self.height(drops)}",
            do=(
                NOBODY_BELOW,
                "Dead weight again. Canopy open and full at release, facing the wind; brakes tied at "
                "their zero marks, then tied at half.",
                *self.dive_words(drops),
                f"{REPEATS} like each other before anything is changed.",
            ),
            measure=(
                "Time aloft, landing place by tape and compass, wind at release height and at the ground.",
                "Height over time aloft is the mean sink; distance less drift over height is the glide.",
            ),
            stop=(
                "It turns by itself, or swings more with every swing.",
                *self.common_stops(drops),
            ),
            figures=(*self.drop_figures(drops), *self.glide_figures(), *self.half_brake()),
        )

    def high(self, drops: DropNumbers) -> Rung:
        o = self.numbers.opening
        return Rung(
            key="high",
            title=f"Drop from {self.height(drops)}",
            do=(
                NOBODY_BELOW,
                f"Dead weight, canopy packed as it will be used ({self.pack}), brakes tied; the payload "
                "itself comes last.",
                f"{REPEATS} good ones before anything is changed.",
                *self.opened_from(drops),
                *self.steering(),
            ),
            measure=(
                "Release to full canopy on video; time aloft; landing place; wind at both heights.",
                "If you carry a logger: sink, airspeed, turn rate over brake.",
            ),
            stop=(
                *self.opening_stops(drops),
                "It opens late, in part, or with a line over the top: back to packing, low and with dead "
                "weight.",
                "A line, tab or seam gave way or stretched.",
                *self.common_stops(drops),
            ),
            figures=(*self.opening_figures(o), *self.drop_figures(drops), *self.glide_figures()),
        )

    def opened_from(self, drops: DropNumbers) -> Iterator[str]:
        height = self.say(self.numbers.opening.release_height, "length", 0)
        if height != self.height(drops):
            yield (
                f"Snatch, opening and heights lost are those of a release at {height}, as the design has it "
                "(parasim opening)."
            )

    def steering(self) -> tuple[str, ...]:
        if not self.steered:
            return ()
        return ("Then with servos: one brake at half first, then both; then the flare (parasim flare).",)

    def opening_stops(self, drops: DropNumbers) -> Iterator[str]:
        minimum = self.numbers.opening.minimum_release
        if minimum is None:
            yield (
                "The model reached no steady glide after opening: do not climb this rung before you know the "
                "height that it takes."
            )
        elif minimum > drops.height:
            yield (
                f"Packed, it needs {self.say(minimum, 'length', 0)} at least: this rung only with the "
                "canopy open."
            )

    def opening_figures(self, o: OpeningNumbers) -> Iterator[Figure]:
        at = self.say(o.release_speed, "speed")
        yield Figure(name=f"opening load, let go at {at}", value=o.peak, kind="force", band=o.peak_band)
        yield Figure(name="snatch as the lines come taut", value=o.snatch, kind="force")
        yield Figure(
            name="height lost until full", value=o.height_to_full, kind="length", band=o.full_band, digits=1
        )
        if o.height_to_glide is not None:
            yield Figure(name="height lost until it glides", value=o.height_to_glide, kind="length", digits=1)
        if o.minimum_release is not None:
            yield Figure(
                name="minimum release height, packed",
                value=o.minimum_release,
                kind="length",
                digits=0,
                given_only=True,
            )

    def drop_figures(self, drops: DropNumbers) -> Iterator[Figure]:
        n = self.numbers
        time = drops.height / n.sink
        low, high = (drops.height / sink for sink in reversed(n.sink_band))
        yield Figure(name="gliding all the way: time aloft", value=time, kind="time", band=(low, high))
        yield Figure(
            name="gliding all the way: distance in still air",
            value=drops.height * n.glide_ratio,
            kind="length",
            digits=1,
        )
        if drops.wind > 0:
            yield Figure(
                name="drift in the site's wind over that time",
                value=time * drops.wind,
                kind="length",
                digits=1,
            )
        for words, arrival in (
            ("from rest, still air", drops.still),
            ("from rest, facing the site's wind", drops.windy),
        ):
            if arrival is not None:
                yield from self.arrival_figures(words, arrival)
        yield Figure(name="unopened: down at", value=drops.unopened_sink, kind="speed", given_only=True)
        yield Figure(name="unopened: energy", value=drops.unopened_energy, kind="energy", given_only=True)

    def arrival_figures(self, words: str, arrival: Arrival) -> Iterator[Figure]:
        yield Figure(name=f"{words}: time aloft", value=arrival.time, kind="time")
        yield Figure(name=f"{words}: lands away from below", value=arrival.distance, kind="length", digits=1)
        yield Figure(name=f"{words}: down at", value=arrival.sink, kind="speed")
        yield Figure(name=f"{words}: over the ground at", value=arrival.ground_speed, kind="speed")
        yield Figure(name=f"{words}: energy", value=arrival.energy, kind="energy")

    def glide_figures(self) -> Iterator[Figure]:
        n = self.numbers
        yield Figure(name="steady glide: airspeed", value=n.airspeed, kind="speed", band=n.airspeed_band)
        yield Figure(name="steady glide: forward", value=n.forward_speed, kind="speed", band=n.forward_band)
        yield Figure(name="steady glide: sink", value=n.sink, kind="speed", band=n.sink_band)
        yield Figure(
            name="steady glide: glide ratio", value=n.glide_ratio, kind="ratio", band=n.glide_ratio_band
        )
        yield Figure(name="steady glide: landing energy", value=n.energy, kind="energy", band=n.energy_band)

    def common_stops(self, drops: DropNumbers) -> tuple[str, ...]:
        n = self.numbers
        found = []
        if n.dive is not None and n.dive < drops.height:
            found.append(
                f"Steady sink is over {self.say(n.sink_band[1], 'speed')} or airspeed outside "
                f"{self.between(n.airspeed_band, 'speed')}: the band is left, so look for why before you "
                "go on."
            )
        found += [
            f"Wind over {self.wind(n.wind_limit)}{self.measured}: it makes too little way against it.",
        ]
        if n.site_wind is not None and n.site_wind > n.wind_limit:
            found.append(f"The site's wind of {self.wind(n.site_wind)} is over that: wait for less.")
        found += self.limit_stops(drops)
        found.append("Anybody is, or may come, where it can land, open or unopened, in any direction.")
        return tuple(found)

    def limit_stops(self, drops: DropNumbers) -> Iterator[str]:
        limits, arrivals = self.limits, [one for one in (drops.still, drops.windy) if one is not None]
        given = (
            ("sink", limits.sink, [one.sink for one in arrivals], "speed"),
            ("speed over the ground", limits.ground_speed, [one.ground_speed for one in arrivals], "speed"),
            ("energy", limits.energy, [one.energy for one in arrivals], "energy"),
        )
        for name, limit, values, kind in given:
            if limit is None:
                continue
            worst = max(values, default=0.0)
            over = f"; from rest {self.say(worst, kind)} is expected, so this rung is not for the payload"
            yield (
                f"{name.capitalize()} at touchdown over the payload's limit of {self.say(limit, kind)}"
                f"{over if worst > limit else ''}."
            )
        if limits.load is not None:
            yield f"Load at touchdown over the payload's limit of {limits.load:g} times its weight."

"""``parasim landing``: what arrives at the ground in every wind."""

from typing import TYPE_CHECKING, Annotated

import numpy as np
import typer

from parasim.cli.flare import AimOption
from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin, quantity_option
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.config.base import speed_between
from parasim.config.quantity import NUMBER
from parasim.errors import OptionError
from parasim.rotations import FloatArray
from parasim.units import show

if TYPE_CHECKING:
    from parasim.flight.landing import Landing

WIND = speed_between(0.0, 40.0)
USUAL_WINDS = "0..8 m/s"


def landing(
    design: DesignArgument,
    wind: Annotated[
        str, typer.Option("--wind", help='Winds at the ground, "0..8 m/s" or "0..15 kt"; or one, "4 m/s".')
    ] = USUAL_WINDS,
    no_flare: Annotated[bool, typer.Option("--no-flare", help="Brakes released only; quicker.")] = False,
    aim: AimOption = "both",
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Speed, energy and load at touchdown in every wind, flared or not, against limits and yardsticks.

    Example: parasim landing configs/heron.yaml --wind "0..8 m/s" --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.flight.landing import landing as every_landing
    from parasim.report.landing import landing_document

    winds = read_winds(wind)
    loaded, output = begin("landing", design, out=out, as_json=as_json, units=units)
    with working("landing", quiet=as_json):
        result = every_landing(assemble(loaded), winds=winds, flared=not no_flare, aim=aim)
    for caveat in result.caveats:
        output.warn(caveat)
    _print(result, output)
    document = landing_document(result)
    if output.wants_files:
        from parasim.plotting.landing import landing_figure
        from parasim.report.landing import LANDING_HEADS, landing_csv

        output.add_csv("landing.csv", LANDING_HEADS, landing_csv(result))
        output.add_json("landing.json", document)
        output.add_figure("landing.png", landing_figure(result, units))
    output.finish(document)


def read_winds(text: str) -> FloatArray:
    """Winds of a range such as "0..8 m/s", about 1 m/s apart, or one wind. [m/s]

    A unit behind the range belongs to both ends.

    Raises
    ------
    OptionError
        When it is neither, or the range does not rise.

    Examples
    --------
    >>> read_winds("0..4").tolist()
    [0.0, 1.0, 2.0, 3.0, 4.0]
    """
    first, mark, last = text.partition("..")
    if not mark:
        return np.array([quantity_option("--wind", text, WIND)])
    unit = NUMBER.sub("", last.strip(), count=1).strip()
    if NUMBER.fullmatch(first.strip()):
        first = f"{first.strip()} {unit}"
    low, high = (quantity_option("--wind", end.strip(), WIND) for end in (first, last))
    if low >= high:
        raise OptionError(
            f'--wind: given "{text[:40]}", it does not rise; use a range such as "{USUAL_WINDS}"'
        )
    return np.linspace(low, high, max(2, round(high - low) + 1))


def _print(result: "Landing", output: Output) -> None:
    from parasim.flight.drop import CAUTIONS
    from parasim.flight.landing import COURSES
    from parasim.report import landing as report

    units = output.units
    ways = [*result.ways, "unopened"]
    still = result.still("brakes released")
    ahead = show(still.wind, "wind_speed", units)
    air = "still air" if still.wind == 0 else f"{ahead} of wind ahead"
    name, touchdown = result.vehicle.design.name, still.touchdown
    output.print(
        f"{name} lands with the brakes released at {show(touchdown.sink, 'speed', units)} down and "
        f"{show(touchdown.ground_speed, 'speed', units)} over the ground in {air}: "
        f"{show(touchdown.energy, 'energy', units)}"
    )
    output.print()
    output.table(
        report.still_rows(result, units),
        heads=[f"in {air}", *ways, *(["band, brakes released"] if still.wind == 0 else [])],
    )
    height = show(result.vehicle.design.drop.height, "length", units, digits=0)
    stop = show(result.limits.stop_distance, "small_length", units)
    output.print(f"unopened: from {height}, and going with the wind")
    output.print(
        f"loads: sink stopped over {stop}, mean V²/(2 g s) + 1, peak twice that (an assumed triangle)"
    )
    output.print()
    output.table(
        report.limit_rows(result, units),
        heads=["limit", "given", "way", f"in {air}", *(f"within, {course}" for course in COURSES)],
        title="Limits of the payload: + within, x over, ? no limit given; right: in which winds, by course",
    )
    output.print()
    for way in result.ways:
        output.table(
            report.wind_rows(result, way, units),
            heads=["wind", *(head for course in COURSES for head in (f"{course}: ground", "energy"))],
            title=f"{way.capitalize()}: speed over the ground and energy, by how the canopy faces the wind",
        )
        output.print()
    output.print(report.wind_sentence(result, units))
    output.print()
    output.table(
        report.yardstick_rows(result, units),
        heads=["yardstick", "", *ways],
        title="Yardsticks, to get a feeling; none of them is a permission",
    )
    for words in report.yardstick_words():
        output.print(words)
    output.print()
    for caution in CAUTIONS:
        output.print(f"caution: {caution}")

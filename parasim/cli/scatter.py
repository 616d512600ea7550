"""``parasim scatter``: thousands of drops with spread inputs, and where they come down."""

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from parasim.cli.drop import OPTION_OF_KEY, with_options
from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.cli.progress import bar, working
from parasim.config.design import Design
from parasim.errors import InterruptedRunError, OptionError, plain
from parasim.units import show

if TYPE_CHECKING:
    from parasim.dynamics.vehicle import Vehicle
    from parasim.scatter.checkpoint import Checkpoint
    from parasim.scatter.scatter import Scatter
    from parasim.workers import Workers

MOST_DROPS = 10_000_000
OPTIONS = {
    **OPTION_OF_KEY,
    "scatter.target.radius": "--radius",
    "scatter.target": "--target",
    "site.position": "--at",
}
Text = str | None
Pool = Literal["threads", "processes"]


def scatter(
    design: DesignArgument,
    drops: Annotated[int, typer.Option("--drops", min=1, max=MOST_DROPS, help="How many.")] = 2000,
    seed: Annotated[
        int,
        typer.Option("--seed", min=0, max=2**63 - 1, help="Same seed, same drops, on any number of workers."),
    ] = 1,
    height: Annotated[Text, typer.Option("--from", help='Release height above ground: "60 m".')] = None,
    wind: Annotated[
        Text, typer.Option("--wind", help='Wind at its reference height: "3 m/s", "6 kt".')
    ] = None,
    wind_from: Annotated[Text, typer.Option("--wind-from", help='Where it blows from: "270 deg".')] = None,
    heading: Annotated[Text, typer.Option("--heading", help='Compass heading at release: "90 deg".')] = None,
    target: Annotated[
        Text, typer.Option("--target", help='Metres north and east of under the release: "0 m, 120 m".')
    ] = None,
    radius: Annotated[Text, typer.Option("--radius", help='How near to the target is near: "25 m".')] = None,
    at: Annotated[
        Text, typer.Option("--at", help='Latitude and longitude (WGS 84) of under the release: "47.1, 11.2".')
    ] = None,
    sobol: Annotated[
        int,
        typer.Option("--sobol", min=0, max=2**16, help="Rows for Sobol indices, a power of two; 0 for none."),
    ] = 0,
    workers: Annotated[
        int | None, typer.Option("--workers", min=1, max=512, help="At a time; else as many as cores.")
    ] = None,
    pool: Annotated[Pool, typer.Option("--pool", help="What the workers on this machine are.")] = "threads",
    cluster: Annotated[
        Text, typer.Option("--cluster", help='Scheduler of a cluster instead: "tcp://host:8786".')
    ] = None,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with what --out holds.")] = False,
    replay: Annotated[
        int | None,
        typer.Option("--replay", min=0, max=MOST_DROPS, help="Fly only this member, by its number."),
    ] = None,
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """Where thousands of drops come down when nothing is quite as planned, how hard, and what drives it.

    Example: parasim scatter configs/heron.yaml --drops 2000 --seed 1 --at "47.1, 11.2" --out out
    """
    from parasim.dynamics.vehicle import assemble
    from parasim.workers import Workers, default_count, within_means

    loaded, output = begin("scatter", design, out=out, as_json=as_json, units=units)
    changes: dict[str, object] = {
        "drop.height": height,
        "site.wind.speed": wind,
        "site.wind.from": wind_from,
        "drop.heading": heading,
        "scatter.target.north": None if target is None else two(target, "--target")[0],
        "scatter.target.east": None if target is None else two(target, "--target")[1],
        "scatter.target.radius": radius,
        "site.position": None if at is None else two(at, "--at"),
    }
    _check(sobol, resume, output, radius=radius, has_target=target is not None or bool(loaded.scatter.target))
    given = {key: value for key, value in changes.items() if value is not None}
    loaded = with_options(loaded, given, OPTIONS)
    vehicle = assemble(loaded)
    if replay is not None:
        _replay(vehicle, seed, replay, output)
        return
    team = Workers(count=workers or default_count(), pool=pool, cluster=cluster)
    team, word = within_means(team)
    if word:
        output.warn(word)
    _scatter(vehicle, team, drops=drops, seed=seed, sobol=sobol, resume=resume, output=output)


def two(text: str, option: str) -> list[str]:
    """Two parts of an option, still as text.

    Raises
    ------
    OptionError
        If they are not two.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 2 or not all(parts):
        shown = plain(text)[:60]
        examples = {"--at": "latitude and longitude in degrees, such as 47.1, 11.2"}
        hint = examples.get(option, "north and east, such as 0 m, 120 m")
        raise OptionError(f'{option}: given "{shown}", not two numbers; use {hint}')
    return parts


def _check(sobol: int, resume: bool, output: Output, *, radius: Text, has_target: bool) -> None:
    if sobol & (sobol - 1) or sobol == 1:
        raise OptionError(f'--sobol: given "{sobol}", not a power of two; use 256, 512, 1024 ...')
    if resume and output.directory is None:
        raise OptionError("--resume: needs --out with the directory to go on with")
    if radius is not None and not has_target:
        raise OptionError("--radius: near to what? add --target")


def _scatter(
    vehicle: "Vehicle", team: "Workers", *, drops: int, seed: int, sobol: int, resume: bool, output: Output
) -> None:
    """Fly, print and write; stopped half-way, what is done is reported as partial, exit code 130."""
    from parasim.report.scatter import scatter_document
    from parasim.scatter.scatter import scatter as scatter_of

    kept = _kept(vehicle.design, seed, output, resume=resume)
    with bar("dropping", quiet=output.as_json) as done:
        result = scatter_of(
            vehicle, drops=drops, seed=seed, workers=team, sobol_base=sobol, kept=kept, done=done
        )
    for caveat in result.caveats:
        output.warn(caveat)
    print_scatter(result, output)
    document = scatter_document(result)
    if output.wants_files:
        with working("drawing", quiet=output.as_json):
            _gather_files(result, output)
        output.add_json("scatter.json", document)
    output.finish(document)
    if not result.stopped:
        if kept is not None:
            kept.remove()
        return
    on = f"{len(result.members)} of {drops} drops are done"
    how = f"; add --resume to go on from {kept.directory}" if kept is not None else ""
    raise InterruptedRunError(f"interrupted: {on}{how}")


def _kept(design: Design, seed: int, output: Output, *, resume: bool) -> "Checkpoint | None":
    """Where finished chunks are kept, with what they depend on."""
    if output.directory is None:
        return None
    from parasim.scatter.checkpoint import Checkpoint, run_contents

    kept = Checkpoint.open(output.directory, run_contents(design, seed=seed), resume=resume)
    if others := kept.others():
        output.warn(
            f"{kept.directory} holds parts of other runs: {others}; they are left alone, and not used."
        )
    return kept


def _gather_files(result: "Scatter", output: Output) -> None:
    from parasim.plotting.scatter import landing_figure, map_figure, sensitivity_figure
    from parasim.report.landing_map import MapError, geojson, kml
    from parasim.report.scatter import member_heads, member_rows

    output.add_csv("landings.csv", member_heads(result.landed), member_rows(result.landed))
    if len(result.failed):
        output.add_csv("failed.csv", member_heads(result.failed), member_rows(result.failed))
    output.add_figure("scatter_map.png", map_figure(result, output.units))
    output.add_figure("scatter_landing.png", landing_figure(result, output.units))
    if result.sensitivity is not None:
        output.add_figure("scatter_sensitivity.png", sensitivity_figure(result))
    try:
        output.add_text("footprint.geojson", geojson(result))
        output.add_text("footprint.kml", kml(result))
    except MapError as error:
        output.warn(f"No GeoJSON and no KML: {error}.")


def print_scatter(result: "Scatter", output: Output) -> None:
    """Tables for people."""
    from parasim.flight.drop import CAUTIONS
    from parasim.report import scatter_words as words

    units = output.units
    partial = "" if result.complete else "PARTIAL: "
    output.print(f"{partial}{words.headline(result, units)}")
    output.print()
    output.table(
        words.figure_rows(result, units), heads=["landings", "mean", "5 %", "half", "95 %", "99 %", "most"]
    )
    output.print()
    if result.limits:
        output.table(
            words.limit_rows(result, units), heads=["over the payload's limit", "limit", "landings", "share"]
        )
        output.print()
    output.table(words.branch_rows(result), heads=["canopy", "drops", "share (95 of 100 times)"])
    output.print()
    heads = ["region of", "area", "holds", "check on unseen landings", "ellipse", "holds", "circle radius"]
    if result.footprint is not None:
        output.table(words.region_rows(result, units), heads=heads, title="Where they come down")
        output.print()
    _print_advice(result, output)
    if result.sensitivity is not None:
        output.table(
            words.driver_rows(result),
            heads=["what drives it", "share explained", "influence (-1 to +1), strongest first"],
        )
        output.print()
    if result.sobol is not None:
        output.table(words.sobol_rows(result), heads=["Sobol indices", "alone/with others, largest first"])
        output.print()
    output.table(words.input_rows(result, units), heads=["input", "nominal", "spread"])
    output.print()
    for caution in CAUTIONS:
        output.print(f"caution: {caution}")


def _print_advice(result: "Scatter", output: Output) -> None:
    from parasim.report.scatter_words import place_words, show_share

    if result.advice is None:
        return
    found, units = result.advice, output.units
    near = show(found.target.radius, "length", units, digits=0)
    output.print(
        f"target {place_words(found.target.north, found.target.east, units)}: "
        f"{show_share(found.now)} come down within {near} of it; released "
        f"{place_words(*found.release, units)} from the planned place {show_share(found.moved)} would"
    )
    output.print()


def _replay(vehicle: "Vehicle", seed: int, number: int, output: Output) -> None:
    """One member again, by itself."""
    from parasim.flight.drop import CAUTIONS, release_of
    from parasim.report.drop import touchdown_rows
    from parasim.report.scatter import replay_document
    from parasim.report.scatter_words import replay_rows
    from parasim.scatter.members import OUTCOMES
    from parasim.scatter.replay import replay as replay_of
    from parasim.scatter.scatter import build_plan

    release = release_of(vehicle)
    plan = build_plan(vehicle, release, seed=seed, flies=False)
    with working("dropping", quiet=output.as_json):
        result = replay_of(vehicle, release, plan, number)
    units = output.units
    output.print(f"{vehicle.design.name}, member {number} of seed {seed}: {OUTCOMES[result.outcome]}")
    output.print()
    output.table(
        replay_rows(result, plan.inputs, units), heads=["input", "value", "off by", "glide begins with"]
    )
    output.print()
    if result.drop is not None:
        for caveat in result.drop.caveats:
            output.warn(caveat)
        if result.untrimmed:
            output.warn("This member has no steady glide of its own; it began in the design's.")
        output.table(touchdown_rows(result.drop, units), heads=["touchdown", "canopy open", "unopened"])
    else:
        rows = [
            [name, show(value, "speed", units)]
            for name, value in (
                ("speed over the ground", float(result.fallen.ground_speed[0])),
                ("sink", float(result.fallen.sink[0])),
            )
        ]
        output.table(rows, heads=["touchdown", OUTCOMES[result.outcome]])
    output.print()
    for caution in CAUTIONS:
        output.print(f"caution: {caution}")
    document = replay_document(result, vehicle.design.name)
    if output.wants_files:
        output.add_json("replay.json", document)
    output.finish(document)

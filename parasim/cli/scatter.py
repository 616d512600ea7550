"""``parasim scatter``: thousands of drops with spread inputs, and where they come down."""

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from parasim.cli.drop import OPTION_OF_KEY, with_options
from parasim.cli.options import WindFromOption, WindOption
from parasim.cli.output import Output
from parasim.cli.progress import bar, working
from parasim.cli.run import command
from parasim.config.design import Design
from parasim.errors import InterruptedRunError, OptionError, plain

if TYPE_CHECKING:
    from parasim.dynamics.vehicle import Vehicle
    from parasim.scatter.checkpoint import Checkpoint
    from parasim.scatter.replay import Replay
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


@command("")
def scatter(
    design: Design,
    output: Output,
    drops: Annotated[int, typer.Option("--drops", min=1, max=MOST_DROPS, help="How many.")] = 2000,
    seed: Annotated[
        int,
        typer.Option("--seed", min=0, max=2**63 - 1, help="Same seed, same drops, on any number of workers."),
    ] = 1,
    height: Annotated[Text, typer.Option("--height", help='Release height above ground: "60 m".')] = None,
    wind: WindOption = None,
    wind_from: WindFromOption = None,
    heading: Annotated[
        Text, typer.Option("--heading", help='Compass heading at release: "90 deg" or "E".')
    ] = None,
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
        typer.Option("--replay", min=0, max=MOST_DROPS, help="Fly only the drop of this number."),
    ] = None,
) -> "Scatter | Replay":
    """Where thousands of drops come down when nothing is quite as planned, how hard, and what drives it.

    Example: parasim scatter configs/heron.yaml --drops 2000 --seed 1 --at "47.1, 11.2" --out out
    """
    from parasim.dynamics.vehicle import assemble

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
    _check(sobol, resume, output, radius=radius, has_target=target is not None or bool(design.scatter.target))
    given = {key: value for key, value in changes.items() if value is not None}
    vehicle = assemble(with_options(design, given, OPTIONS))
    if replay is not None:
        return _replayed(vehicle, seed, replay, output)
    team = _team(workers, pool, cluster, output)
    return _scattered(vehicle, team, drops=drops, seed=seed, sobol=sobol, resume=resume, output=output)


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


def _team(workers: int | None, pool: Pool, cluster: Text, output: Output) -> "Workers":
    from parasim.workers import Workers, default_count, within_means

    team, word = within_means(Workers(count=workers or default_count(), pool=pool, cluster=cluster))
    if word:
        output.warn(word)
    return team


def _scattered(
    vehicle: "Vehicle", team: "Workers", *, drops: int, seed: int, sobol: int, resume: bool, output: Output
) -> "Scatter":
    """Fly; stopped half-way, what is done is reported as partial, exit code 130."""
    from parasim.environment.wind import check_wind_reaches
    from parasim.scatter.scatter import scatter as scatter_of

    check_wind_reaches(vehicle.wind, vehicle.design.drop.height, site=vehicle.design.site)
    kept = _kept(vehicle.design, seed, output, resume=resume)
    with bar("dropping", quiet=output.as_json) as done:
        result = scatter_of(
            vehicle, drops=drops, seed=seed, workers=team, sobol_base=sobol, kept=kept, done=done
        )
    output.at_last(lambda: _ended(result, kept))
    return result


def _ended(result: "Scatter", kept: "Checkpoint | None") -> None:
    """Drop the parts of a run that is whole; say how to go on with one that is not."""
    if not result.stopped:
        if kept is not None:
            kept.remove()
        return
    on = f"{len(result.members)} of {result.drops} drops are done"
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


def _replayed(vehicle: "Vehicle", seed: int, number: int, output: Output) -> "Replay":
    """One drop again, by itself."""
    from parasim.flight.drop import release_of
    from parasim.scatter.replay import replay as replay_of
    from parasim.scatter.scatter import build_plan

    release = release_of(vehicle)
    plan = build_plan(vehicle, release, seed=seed, flies=False)
    with working("dropping", quiet=output.as_json):
        return replay_of(vehicle, release, plan, number)

"""``parasim sweep``: outputs over one or two keys of the design file, or the best design under limits."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.cli.run import command, loaded
from parasim.config.variant import read_design_file
from parasim.config.variation import MOST_POINTS, read_variation
from parasim.errors import OptionError

if TYPE_CHECKING:
    from parasim.study.search import Search
    from parasim.study.sweep import Sweep

POINTS = 9
"""Values of one key; of each of two, too."""

MOST_WORKERS = 64


@command("")
def sweep(
    design: Path,
    output: Output,
    vary: Annotated[
        list[str],
        typer.Option(
            "--vary",
            metavar="KEY=VALUES",
            help='Key of the design file and its values, "canopy.span=0.9..1.4 m" or "canopy.cells=5,7,9"; '
            "again for a second key, up to four in a search.",
            show_default=False,
        ),
    ],
    show: Annotated[
        str | None,
        typer.Option(
            "--show",
            help="Outputs between commas: sink, landing_energy, servo_torque ... (an unknown one lists all).",
            show_default="sink,glide",
        ),
    ] = None,
    points: Annotated[int, typer.Option("--points", help="Values in each range.")] = POINTS,
    limit: Annotated[
        list[str] | None,
        typer.Option(
            "--limit", help='Limit on an output: "glide>=2.5", "servo_torque<=0.4 N m"; repeatable.'
        ),
    ] = None,
    minimum: Annotated[
        str | None, typer.Option("--minimum", help="Search for the design with the minimum of this output.")
    ] = None,
    most: Annotated[
        str | None, typer.Option("--maximum", help="Search for the design with the most of this output.")
    ] = None,
    evaluations: Annotated[
        int | None,
        typer.Option("--evaluations", help="Designs a search looks at, at most; 400, or 160 if slow."),
    ] = None,
    workers: Annotated[int, typer.Option("--workers", help="Processes at work; figures stay the same.")] = 1,
) -> "Sweep | Search":
    """How outputs change with one or two keys of the file; with --minimum or --maximum the best under limits.

    Example: parasim sweep configs/heron.yaml --vary "canopy.span=0.9..1.4 m" --show sink,glide --out out
    """
    from parasim.study.limits import check_limits, read_limit, read_names
    from parasim.study.search import search
    from parasim.study.sweep import USUAL
    from parasim.study.sweep import sweep as sweep_over

    goal = _goal(minimum, most)
    limits = tuple(read_limit(text) for text in limit or ())
    check_limits(limits)
    names = read_names(show) if show is not None else ()
    _check_counts(points, workers)
    loaded(design, output)
    file = read_design_file(design)
    variations = [read_variation(text, file, points) for text in vary]
    if goal is None and evaluations is not None:
        raise OptionError("--evaluations: belongs to a search; add --minimum or --maximum")
    with working("searching" if goal else "sweeping", quiet=output.as_json) as progress:
        if goal:
            return search(
                file, variations, goal=goal, minimum=minimum is not None, limits=limits, shown=names,
                evaluations=evaluations, workers=workers, progress=progress,
            )  # fmt: skip
        wanted = tuple(dict.fromkeys([*(names or USUAL), *(limit.name for limit in limits)]))
        return sweep_over(file, variations, names=wanted, limits=limits, workers=workers, progress=progress)


def _goal(minimum: str | None, most: str | None) -> str | None:
    if minimum is not None and most is not None:
        raise OptionError("--minimum, --maximum: given both; give one")
    if minimum is None and most is None:
        return None
    from parasim.study.limits import output_named

    option, name = ("--minimum", minimum) if minimum is not None else ("--maximum", most)
    return output_named(name or "", option).name


def _check_counts(points: int, workers: int) -> None:
    if not 2 <= points <= MOST_POINTS:
        raise OptionError(f"--points: given {points}; use 2 to {MOST_POINTS}")
    if not 1 <= workers <= MOST_WORKERS:
        raise OptionError(f"--workers: given {workers}; use 1 to {MOST_WORKERS}")

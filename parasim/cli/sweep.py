"""``parasim sweep``: outputs over one or two keys of the design file, or the best design under limits."""

from typing import TYPE_CHECKING, Annotated

import typer

from parasim.cli.options import DesignArgument, JsonOption, OutOption, UnitsOption, begin
from parasim.cli.output import Output
from parasim.cli.progress import working
from parasim.config.variant import DesignFile, read_design_file
from parasim.config.variation import MOST_POINTS, Variation, read_variation
from parasim.errors import OptionError

if TYPE_CHECKING:
    from parasim.study.limits import Limit
    from parasim.study.search import Search
    from parasim.study.sweep import Sweep

POINTS = 9
"""Values of one key; of each of two, too."""

MOST_WORKERS = 64


def sweep(
    design: DesignArgument,
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
    out: OutOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """How outputs change with one or two keys of the file; with --minimum or --maximum the best under limits.

    Example: parasim sweep configs/heron.yaml --vary "canopy.span=0.9..1.4 m" --show sink,glide --out out
    """
    from parasim.study.limits import check_limits, read_limit, read_names

    goal = _goal(minimum, most)
    limits = tuple(read_limit(text) for text in limit or ())
    check_limits(limits)
    names = read_names(show) if show is not None else ()
    _check_counts(points, workers)
    _, output = begin("sweep", design, out=out, as_json=as_json, units=units)
    file = read_design_file(design)
    variations = [read_variation(text, file, points) for text in vary]
    if goal:
        _search(file, variations, goal, minimum is not None, limits, names, evaluations, workers, output)
    else:
        if evaluations is not None:
            raise OptionError("--evaluations: belongs to a search; add --minimum or --maximum")
        _sweep(file, variations, limits, names, workers, output)


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


def _sweep(
    file: DesignFile,
    variations: list[Variation],
    limits: "tuple[Limit, ...]",
    names: tuple[str, ...],
    workers: int,
    output: Output,
) -> None:
    from parasim.report import sweep as report
    from parasim.study.sweep import USUAL
    from parasim.study.sweep import sweep as sweep_over

    wanted = tuple(dict.fromkeys([*(names or USUAL), *(limit.name for limit in limits)]))
    with working("sweeping", quiet=output.as_json) as progress:
        result = sweep_over(file, variations, names=wanted, limits=limits, workers=workers, progress=progress)
    for caveat in report.sweep_caveats(result):
        output.warn(caveat)
    _print_sweep(result, output)
    document = report.sweep_document(result)
    if output.wants_files:
        heads = report.sweep_heads(result.variations, result.names)
        output.add_csv("sweep.csv", heads, report.sweep_csv(result.variants, result.variations, result.names))
        output.add_json("sweep.json", document)
        with working("drawing", quiet=output.as_json):
            _draw(result, output)
    output.finish(document)


def _draw(result: "Sweep", output: Output) -> None:
    from parasim.plotting.sweep import contour_figure, line_figure

    if len(result.variations) == 1 or any(variation.words for variation in result.variations):
        output.add_figure("sweep.png", line_figure(result, output.units))
        return
    for name in result.names:
        output.add_figure(f"sweep_{name}.png", contour_figure(result, name, output.units))


def _print_sweep(result: "Sweep", output: Output) -> None:
    from parasim.report import sweep as report

    units = output.units
    keys = [variation.key for variation in result.variations]
    count = len(result.variants)
    output.print(f"{result.design.name}: {count} designs over {' and '.join(keys)}; still air, at the ground")
    own = [v.text(x) if x is not None else "-" for v, x in zip(result.variations, result.own, strict=True)]
    output.print(f"as the file has it: {', '.join(map(' '.join, zip(keys, own, strict=True)))}")
    output.print()
    heads = [*keys, *(one.words for one in result.outputs)]
    output.table(report.sweep_rows(result, units), heads=heads)
    if count > report.MOST_ROWS:
        output.print(f"{count - report.MOST_ROWS} more in sweep.csv (--out DIR)")
    for sentence in report.limit_sentences(result, units):
        output.print(f"{sentence} (+ kept, x not)")
    _print_cautions(result.cautions, output)


def _search(
    file: DesignFile,
    variations: list[Variation],
    goal: str,
    is_minimum: bool,
    limits: "tuple[Limit, ...]",
    names: tuple[str, ...],
    evaluations: int | None,
    workers: int,
    output: Output,
) -> None:
    from parasim.report import search as report
    from parasim.report.sweep import sweep_csv, sweep_heads
    from parasim.study.search import search

    with working("searching", quiet=output.as_json) as progress:
        result = search(
            file, variations, goal=goal, minimum=is_minimum, limits=limits, shown=names,
            evaluations=evaluations, workers=workers, progress=progress,
        )  # fmt: skip
    for caveat in (*report.search_caveats(result), *report.own_limit_sentences(result, output.units)):
        output.warn(caveat)
    _print_search(result, output)
    document = report.search_document(result)
    if output.wants_files:
        from parasim.plotting.sweep import search_figure

        heads = sweep_heads(result.variations, result.names)
        output.add_csv("sweep.csv", heads, sweep_csv(result.everything, result.variations, result.names))
        output.add_json("sweep.json", document)
        output.add_figure("sweep.png", search_figure(result, output.units))
        if result.best is not None:
            output.add_text("sweep_best.yaml", report.best_file(result))
    output.finish(document)


def _print_search(result: "Search", output: Output) -> None:
    from parasim.report import search as report

    units = output.units
    output.print(report.headline(result, units))
    output.print(f"{len(result.everything)} designs looked at; still air, at the ground")
    output.print()
    given = "the best" if result.best else "the nearest"
    output.table(report.output_rows(result, units), heads=["", "as designed", given])
    if result.limits:
        output.print()
        output.table(report.limit_rows(result, units), heads=["limit", given, "", "reached for it alone"])
    if result.best:
        output.print()
        output.table(report.range_rows(result), heads=["key", "the best", "within 2 % of it", "searched", ""])
    _print_cautions(result.cautions, output)


def _print_cautions(cautions: tuple[str, ...], output: Output) -> None:
    if cautions:
        output.print()
    for caution in cautions:
        output.print(f"caution: {caution}")

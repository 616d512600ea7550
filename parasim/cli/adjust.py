"""``parasim adjust``: a page on which a design is changed by hand, its figures beside it."""

from importlib.util import find_spec
from pathlib import Path
from typing import Annotated

import typer

from parasim.cli.options import DesignArgument, UnitsOption, given_path
from parasim.errors import OptionError, plain

MISSING = 'the page needs the extra "page"; install it with: pip install "parasim[page]"'


def adjust(
    design: DesignArgument,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="DIR", parser=given_path, help="Directory for new design files; that of DESIGN "
            "by default.", show_default=False,
        ),
    ] = None,
    units: UnitsOption = "metric",
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the page's address only, open nothing.")
    ] = False,
) -> None:  # fmt: skip
    """Change a design by hand on a page: drag its handles, see limits and margins follow, save it anew.

    The page is for this machine only; Ctrl-C ends it. It needs the extra "page".

    Example: parasim adjust configs/heron.yaml
    """
    if find_spec("nicegui") is None:
        raise OptionError(MISSING)
    from parasim.cli.output import check_directory
    from parasim.page.serve import serve

    def say(address: str) -> None:
        print(f"adjust {plain(str(design))} at {address} (Ctrl-C ends it)", flush=True)

    directory = design.parent if out is None else out
    check_directory(directory)
    serve(design, directory=directory, units=units, browser=not no_browser, say=say)
    print("page closed")

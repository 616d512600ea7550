"""The command ``parasim``.

A command is one module in this package with one function of the same name; it is found by its file, so
adding the file adds the command. Commands import what they need inside the function, which keeps
``parasim --help`` quick.
"""

import ast
import logging
import os
import sys
import warnings
from collections.abc import Callable, Sequence
from errno import EPIPE
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import Annotated, cast

import typer

import parasim.cli
from parasim import __version__
from parasim.cache import CacheWarning
from parasim.cli.streams import Stream, lasting_streams
from parasim.errors import DesignError, InterruptedRunError, ParasimError, plain

BAD_INPUT = 2
INTERRUPTED = 130

MOST_MISTAKES = 10
"""Lines that are shown of a file full of mistakes. [-]"""

MEANT = {"--from": ("--height", "--wind-from")}
"""Options that no command has, and what is likely meant by them, likeliest first."""

_UNHEARD = logging.NullHandler()
"""Takes what libraries log about themselves, such as a search for fonts, in place of stderr."""

_NOT_COMMANDS = {"main", "options", "output", "progress", "run", "streams"}
_UsageError = cast(
    type[Exception], typer.BadParameter.__mro__[2]
)  # base of every mistake on the command line


def command_names() -> list[str]:
    """Names of all commands, in alphabetical order."""
    return sorted({module.name for module in iter_modules(parasim.cli.__path__)} - _NOT_COMMANDS)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str, optional
        Without the name of the program; those of the process when left out.

    Returns
    -------
    int
        Exit code: 0 done, 2 bad input (said on stderr), 130 interrupted.
    """
    os.environ["MPLBACKEND"] = "agg"  # pictures are only ever files, whatever a notebook has set
    logging.getLogger().addHandler(_UNHEARD)
    with lasting_streams() as out:
        with warnings.catch_warnings():
            warnings.showwarning = _show_warning
            code = _run(arguments)
        out.flush()
        return code or _printed(out)


def _printed(out: Stream) -> int:
    """Exit code for whether the text could be printed; a reader who has seen enough is no mistake."""
    if out.failure is None or out.failure.errno == EPIPE:
        return 0
    reason = f"the text could not be printed ({out.failure.strerror})"
    return _refuse(f"parasim: {reason}; print it elsewhere; files that were asked for are written")


def _run(arguments: Sequence[str] | None) -> int:
    """Run one command; every mistake of the user ends here as plain lines."""
    arguments = sys.argv[1:] if arguments is None else list(arguments)
    try:
        code = _app(arguments)(args=arguments, prog_name="parasim", standalone_mode=False)
    except DesignError as error:
        return _refuse(str(error.in_file(_design_among(arguments))))
    except InterruptedRunError as error:
        return _refuse(plain(f"parasim: {error}"), INTERRUPTED)
    except ParasimError as error:
        return _refuse(plain(f"parasim: {error}"))
    except OSError as error:
        what = f"{error.filename}: " if error.filename else ""
        return _refuse(plain(f"parasim: {what}{error.strerror or error}"))
    except _UsageError as error:
        return _refuse(plain(f"parasim: {_usage(error)}; {_advice(arguments)}"))
    except SystemExit as stop:
        code = stop.code
    except (KeyboardInterrupt, typer.Abort):
        code = INTERRUPTED
    if code == INTERRUPTED:
        return _refuse("parasim: interrupted", INTERRUPTED)
    return code if isinstance(code, int) else 0


def _show_warning(message: Warning | str, category: type[Warning], *_: object, **__: object) -> None:
    """Show our own warnings in one line; a library's, about its own insides, help no user."""
    if issubclass(category, CacheWarning):
        print(f"warning: {message}", file=sys.stderr)


def _app(arguments: Sequence[str]) -> typer.Typer:
    """Build the command line; only the command asked for is imported, of the others the help is read."""
    # By this typer lets the shell be named, rather than guess it from the processes above.
    os.environ["_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION"] = "1"
    app = typer.Typer(
        no_args_is_help=False,
        context_settings={"help_option_names": ["--help", "-h"]},
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        help="Predict how a small sewn ram-air parafoil brings down its payload.",
        epilog="Example: parasim glide configs/heron.yaml --out out",
    )
    app.callback(invoke_without_command=True)(_options)
    asked = _asked_command(arguments)
    for name in command_names():
        module = f"parasim.cli.{name}"
        at_hand = name == asked or module in sys.modules
        app.command(name)(getattr(import_module(module), name) if at_hand else _stub(name))
    return app


def _asked_command(arguments: Sequence[str]) -> str:
    """First word that is no option; a shell that completes hands over its line in one of two variables."""
    line = os.environ.get("COMP_WORDS") or os.environ.get("_TYPER_COMPLETE_ARGS") or ""
    words = line.split()[1:] if "_PARASIM_COMPLETE" in os.environ else arguments
    return next((word for word in words if not word.startswith("-")), "")


def _stub(name: str) -> Callable[[], None]:
    """Stand-in that has a command's help text, read from its source without importing what it needs."""

    def stub() -> None: ...

    tree = ast.parse((Path(parasim.cli.__path__[0]) / f"{name}.py").read_text(encoding="utf-8"))
    functions = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    stub.__doc__ = ast.get_docstring(functions[name])
    return stub


def _options(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", help="Show the version and stop.", is_eager=True)
    ] = False,
) -> None:
    if version:
        print(f"parasim {__version__}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        print(context.get_help())
        raise typer.Exit


def _refuse(message: str, code: int = BAD_INPUT) -> int:
    lines = message.split("\n")
    shown = lines[:MOST_MISTAKES]
    if len(lines) > MOST_MISTAKES:
        shown.append(f"and {len(lines) - MOST_MISTAKES} mistakes more")
    print("\n".join(shown), file=sys.stderr)
    return code


def _usage(error: BaseException) -> str:
    context = getattr(error, "ctx", None)
    has = {name for each in context.command.params for name in each.opts} if context else set()
    if meant := [name for name in MEANT.get(getattr(error, "option_name", ""), ()) if name in has]:
        error.possibilities = meant  # type: ignore[attr-defined]
    text = error.format_message() if hasattr(error, "format_message") else str(error)
    return " ".join(str(text).split()).rstrip(".")


def _advice(arguments: Sequence[str]) -> str:
    first = arguments[0] if arguments else ""
    if first in command_names():
        return f"try: parasim {first} --help"
    return "try: parasim --help"


def _design_among(arguments: Sequence[str]) -> str:
    return next((word for word in arguments if word.endswith((".yaml", ".yml"))), "")


if __name__ == "__main__":
    sys.exit(main())

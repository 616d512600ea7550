"""The command ``parasim``.

A command is one module in this package with one function of the same name; it is found by its file, so
adding the file adds the command. Commands import what they need inside the function, which keeps
``parasim --help`` quick.
"""

import sys
import warnings
from collections.abc import Sequence
from importlib import import_module
from io import TextIOWrapper
from pkgutil import iter_modules
from typing import Annotated, cast

import typer

import parasim.cli
from parasim import __version__
from parasim.cache import CacheWarning
from parasim.errors import DesignError, ParasimError

BAD_INPUT = 2
INTERRUPTED = 130

MOST_MISTAKES = 10
"""Lines that are shown of a file full of mistakes. [-]"""

_NOT_COMMANDS = {"main", "options", "output", "progress"}
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
        Exit code: 0 done, 2 bad input (told on stderr), 130 interrupted.
    """
    _print_what_can_be_printed()
    with warnings.catch_warnings():
        warnings.showwarning = _show_warning
        return _run(arguments)


def _run(arguments: Sequence[str] | None) -> int:
    """Run one command; every mistake of the user ends here as plain lines."""
    arguments = sys.argv[1:] if arguments is None else list(arguments)
    try:
        code = _app(arguments)(args=arguments, prog_name="parasim", standalone_mode=False)
    except DesignError as error:
        return _refuse(str(error.in_file(_design_among(arguments))))
    except ParasimError as error:
        return _refuse(f"parasim: {error}")
    except _UsageError as error:
        return _refuse(f"parasim: {_usage(error)}; {_advice(arguments)}")
    except (KeyboardInterrupt, typer.Abort):
        return _refuse("parasim: interrupted", INTERRUPTED)
    return code if isinstance(code, int) else 0


def _print_what_can_be_printed() -> None:
    """Let a terminal without ² show a ? in its place, rather than stop."""
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def _show_warning(message: Warning | str, category: type[Warning], *_: object, **__: object) -> None:
    """Tell our own warnings in one line; a library's, about its own insides, help no user."""
    if issubclass(category, CacheWarning):
        print(f"warning: {message}", file=sys.stderr)


def _app(arguments: Sequence[str]) -> typer.Typer:
    """Build the command line; only the command asked for is imported, all of them for help."""
    app = typer.Typer(
        add_completion=False,
        no_args_is_help=False,
        context_settings={"help_option_names": ["--help", "-h"]},
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        help="Predict how a small sewn ram-air parafoil brings down its payload.",
        epilog="Example: parasim glide configs/heron.yaml --out out",
    )
    app.callback(invoke_without_command=True)(_options)
    names = command_names()
    wanted = [name for name in names if name in arguments[:1]] or names
    for name in wanted:
        module = import_module(f"parasim.cli.{name}")
        app.command(name)(getattr(module, name))
    return app


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
    shown = ["".join(c if c.isprintable() else " " for c in line) for line in lines[:MOST_MISTAKES]]
    if len(lines) > MOST_MISTAKES:
        shown.append(f"and {len(lines) - MOST_MISTAKES} mistakes more")
    print("\n".join(shown), file=sys.stderr)
    return code


def _usage(error: BaseException) -> str:
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

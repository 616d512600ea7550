"""``python -m parasim``: the same as the command ``parasim``."""

import gc
import os
import signal
import sys

TYPE_CHECKING = False  # as of typing, without the time of its import
if TYPE_CHECKING:
    from types import TracebackType


def run() -> int:
    """Run one command and give back its exit code.

    What a command imports stays until the end. Looking through it for garbage, again and again and once more
    at the end, would take a fifth of a short command's time. Our matrices are small: threads that share one
    mostly wait for each other, so there is one, unless the user asks for more.
    """
    gc.set_threshold(1_000_000)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    interruption = Interruption()
    try:
        sys.unraisablehook = _interrupt_again
        sys.excepthook = _print_error
        from parasim.cli.main import main

        code = main()
    except BaseException:
        if not interruption.came:
            raise
        print("parasim: interrupted", file=sys.stderr)
        code = 130
    signal.signal(signal.SIGINT, lambda *_: os._exit(code))  # all is written: what is left may be cut short
    gc.freeze()
    return code


class Interruption:
    """Remembers that the command was interrupted.

    An interruption that comes while C code runs may arrive as any other error: a schema that could not be
    built, a module that could not be imported.
    """

    def __init__(self) -> None:
        self.came = False
        if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # not where it is to be ignored
            signal.signal(signal.SIGINT, self._note)

    def _note(self, *_: object) -> None:
        self.came = True
        raise KeyboardInterrupt


def _print_error(kind: type[BaseException], error: BaseException, trace: "TracebackType | None") -> None:
    """Print an error as Python does, but for an interruption that C code would print before it goes on."""
    if not issubclass(kind, KeyboardInterrupt):
        sys.__excepthook__(kind, error, trace)


def _interrupt_again(lost: "sys.UnraisableHookArgs") -> None:
    """Interrupt once more, a little later, where the interruption came while Python could not pass it on."""
    from _thread import interrupt_main
    from threading import Timer

    if not issubclass(lost.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(lost)
        return
    again = Timer(0.02, interrupt_main)
    again.daemon = True
    again.start()


if __name__ == "__main__":
    sys.exit(run())

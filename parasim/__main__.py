"""``python -m parasim``: the same as the command ``parasim``."""

import gc
import os
import signal
import sys


def run() -> int:
    """Run one command and give back its exit code.

    What a command imports stays until the end. Looking through it for garbage, again and again and once more
    at the end, would take a fifth of a short command's time.
    """
    gc.set_threshold(100_000)
    try:
        sys.unraisablehook = _interrupt_again
        from parasim.cli.main import main

        code = main()
    except KeyboardInterrupt:
        print("parasim: interrupted", file=sys.stderr)
        code = 130
    signal.signal(signal.SIGINT, lambda *_: os._exit(code))  # all is written: what is left may be cut short
    gc.freeze()
    return code


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

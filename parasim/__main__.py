"""``python -m parasim``: the same as the command ``parasim``."""

import gc
import sys


def run() -> int:
    """Run one command and give back its exit code.

    What a command imports stays until the end. Looking through it for garbage, again and again and once more
    at the end, would take a fifth of a short command's time.
    """
    gc.set_threshold(100_000)
    from parasim.cli.main import main

    code = main()
    gc.freeze()
    return code


if __name__ == "__main__":
    sys.exit(run())

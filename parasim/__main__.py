"""``python -m parasim``: the same as the command ``parasim``."""

import sys

from parasim.cli.main import main

if __name__ == "__main__":
    sys.exit(main())

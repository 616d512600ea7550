"""Tests of parasim. Read before any of them, so that numpy starts as the command starts it: on one thread."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

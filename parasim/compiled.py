"""Plain numeric functions made machine code by numba, and where that code is kept.

A compiled function takes floats, arrays and named tuples of them. It is written in ordinary Python, and can
be called as that by its attribute ``py_func``.
"""

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numba

from parasim.cache import cache_directory

Function = TypeVar("Function", bound=Callable[..., Any])

OPTIONS: dict[str, Any] = {
    "nogil": True,
    "error_model": "numpy",
    "_nrt": False,
    "forceinline": True,
    "no_cfunc_wrapper": True,
}
"""How numba compiles; `compiled` tells why."""


def compiled(function: Function) -> Function:
    """Compile a function at its first call and keep the machine code for later runs.

    Notes
    -----
    Division by nought gives an infinity, as in numpy. Other threads go on while it runs. The function may not
    make arrays: then numba need not count who holds which array (its run-time option ``_nrt``). In a function
    that is handed a dozen of them the counting takes longer than the arithmetic. For a like reason functions
    are put into those that call them (``forceinline``): each array is handed over as seven or more numbers, a
    flight as some 140, and that through five calls one in the other took a third of the time of a flight.
    Products and sums are not contracted to one operation, so that a machine which can do so lands on the same
    digits as one which cannot.
    """
    njit: Any = numba.njit
    compiled_function: Function = njit(cache=True, **OPTIONS)(function)
    return compiled_function


def source_digest() -> str:
    """Short digest of every source file with compiled functions, and of how they are compiled.

    numba looks at the file of the function that it loads, not at those of the functions which that one calls.
    So each state of the sources keeps its machine code in a directory of its own.
    """
    digest = hashlib.sha256(repr(OPTIONS).encode())
    for path in sorted(Path(__file__).parent.glob("*/*.py")):
        text = path.read_bytes()
        if b"parasim.compiled import" in text:
            digest.update(text)
    return digest.hexdigest()[:16]


if "NUMBA_CACHE_DIR" not in os.environ:
    numba.config.CACHE_DIR = str(cache_directory("compiled") / source_digest())  # type: ignore[attr-defined]

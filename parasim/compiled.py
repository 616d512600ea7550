"""Plain numeric functions made machine code by numba, and where that code is kept.

A compiled function takes floats, arrays and named tuples of them. It is written in ordinary Python, and can
be called as that by its attribute ``py_func``. What only compiled functions call often is `inlined`.
"""

import hashlib
import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
from numba.core import types
from numba.core.dispatcher import Dispatcher
from numba.core.typing.templates import infer_global

from parasim.cache import cache_directory, prune_states, usable, without_cache
from parasim.rotations import FloatArray

try:
    from parasim.kept_code import KeptCode
except (ImportError, AttributeError):  # this numba arranges its cache in another way
    KeptCode = None  # type: ignore[assignment,misc]

Function = TypeVar("Function", bound=Callable[..., Any])

OPTIONS: dict[str, Any] = {
    "nogil": True,
    "error_model": "numpy",
    "_nrt": False,
    "forceinline": True,
    "no_cfunc_wrapper": True,
}
"""How numba compiles; `compiled` says why."""


def compiled(function: Function) -> Function:
    """Compile a function at its first call and keep the machine code for later runs.

    Notes
    -----
    Division by zero gives an infinity, as in numpy. Other threads go on while it runs. The function may not
    make arrays: then numba need not count who holds which array (its run-time option ``_nrt``). In a function
    that is handed a dozen of them the counting takes longer than the arithmetic. For a like reason functions
    are put into those that call them (``forceinline``): each array is handed over as seven or more numbers, a
    flight as some 140, and that through five calls one in the other took a third of the time of a flight.
    Products and sums are not contracted to one operation, so that a machine which can do so lands on the same
    digits as one which cannot.
    """
    njit: Any = numba.njit
    compiled_function: Any = njit(**OPTIONS)(function)
    if numba.config.CACHE_DIR:  # type: ignore[attr-defined]
        with suppress(RuntimeError):  # numba found no place for it, say since the disk filled up meanwhile
            _keep(compiled_function, function)
    kept: Function = compiled_function
    return kept


def inlined(function: Function) -> Function:
    """Let compiled functions call a function, which becomes a part of each; called from Python it is Python.

    Half the compiling of a small function goes into how Python would call it.
    """
    njit: Any = numba.njit
    part: Any = njit(**OPTIONS, no_cpython_wrapper=True)(function)
    global_type: Any = infer_global
    global_type(function, types.Dispatcher(part))
    _PARTS.append(part)
    return function


def ready(function: Any, *kinds: Any) -> Callable[..., Any]:
    """Machine code of a compiled function for arguments of these kinds, which has to be given no others.

    numba looks at the types of all arguments at every call. With the constants of a flight among them that
    takes longer than the call itself; this looks at none.
    """
    if not isinstance(function, Dispatcher):  # numba is set to compile nothing
        return cast("Callable[..., Any]", function)
    machine_code: Callable[..., Any] = function.compile(kinds)
    return machine_code


kind_of: Callable[[object], Any] = numba.typeof
"""numba's type of an argument."""

NUMBER: Any = types.float64
COUNT, VECTOR, ROWS = types.int64, NUMBER[::1], NUMBER[:, ::1]
VECTOR3 = kind_of((0.0, 0.0, 0.0))
"""Kinds of usual arguments for `ready`."""

_PARTS: list[Any] = []
"""Parts that numba itself does not keep."""


def _keep(compiled_function: Any, function: Any) -> None:
    """Have machine code kept by our checked cache or, where this numba does not fit it, by numba's own."""
    try:
        compiled_function._cache = KeptCode(function)
    except (AttributeError, TypeError):
        compiled_function.enable_caching()


def source_digest() -> str:
    """Short digest of every source file with compiled functions, and of how they are compiled.

    numba looks at the file of the function that it loads, not at those of the functions which that one calls.
    So each state of the sources keeps its machine code in a directory of its own.
    """
    digest = hashlib.sha256(repr(OPTIONS).encode())
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        text = path.read_bytes()
        if b"parasim.compiled import" in text:
            digest.update(text)
    return digest.hexdigest()[:16]


def _choose_directory() -> None:
    """Set for numba where to keep machine code; nowhere, with a warning, if nothing can be written there."""
    given = os.environ.get("NUMBA_CACHE_DIR")
    kinds = cache_directory("compiled")
    directory = Path(given) if given else kinds and kinds / source_digest()
    if directory is None or not usable(directory):
        without_cache(directory, "cannot be written")
        numba.config.CACHE_DIR = ""  # type: ignore[attr-defined]
        return
    numba.config.CACHE_DIR = str(directory)  # type: ignore[attr-defined]
    if not given:
        prune_states(directory)


_choose_directory()


@inlined
def interval(knots: FloatArray, value: float) -> int:
    """Index of the interval between rising knots that holds a value; the first or last where none does."""
    low, high = 0, len(knots) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if value >= knots[middle]:
            low = middle
        else:
            high = middle
    return low

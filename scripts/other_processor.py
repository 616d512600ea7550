"""Run Python as on a processor with an older instruction set.

    python scripts/other_processor.py                          the tests that rest on arithmetic most
    python scripts/other_processor.py -m pytest tests/cli      any others, or any program

Wide vector units and fused products are held back from numpy, from the linear algebra of numpy and scipy,
from the mathematics library and from numba's machine code. So sums are added in another order, and last bits
differ: what is printed or tested must not hang on them.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys

ARITHMETIC = [
    *("-m", "pytest", "-n", "auto", "-q"),
    *("tests/test_readme.py", "tests/validation", "tests/unit/aerodynamics", "tests/unit/dynamics"),
]


def environment(*, compiled: bool = True) -> dict[str, str]:
    """Variables of such a run; without `compiled` machine code that was kept serves it as well."""
    from numpy._core import _multiarray_umath as core

    wide = [name for name in core.__cpu_dispatch__ if core.__cpu_features__.get(name)]
    found = {**os.environ, "NPY_DISABLE_CPU_FEATURES": " ".join(wide)}
    if platform.machine().lower() in ("x86_64", "amd64"):
        found["OPENBLAS_CORETYPE"] = "Nehalem"
        found["GLIBC_TUNABLES"] = "glibc.cpu.hwcaps=-AVX2,-FMA,-AVX512F,-AVX512VL"
    if compiled:
        found |= {"NUMBA_CPU_NAME": "generic", "NUMBA_CPU_FEATURES": ""}
    return found


if __name__ == "__main__":
    done = subprocess.run([sys.executable, *(sys.argv[1:] or ARITHMETIC)], env=environment(), check=False)
    raise SystemExit(done.returncode)

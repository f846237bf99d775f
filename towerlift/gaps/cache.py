"""Compiling the kernels of the engine, and keeping them between runs.

Numba's own cache looks only at the file a function stands in. A change in a
function it calls, in numba itself or in the processor would leave an old
kernel answering, so every kernel here is kept in a folder whose name is a hash
of all of these.
"""

import hashlib
import os
import platform
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TypeVar

import llvmlite
import llvmlite.binding
import numba
import numpy as np

F = TypeVar("F", bound=Callable[..., object])

CACHE_VARIABLE = "TOWERLIFT_CACHE"


@cache
def engine_hash() -> str:
    """Name everything that a compiled kernel depends on.

    Returns
    -------
    digest : str
        Hash of the engine's sources, the versions of Python and of the
        compiling libraries, and the processor with its features.
    """
    digest = hashlib.sha256()
    for source in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(source.name.encode())
        digest.update(source.read_bytes())
    facts = (
        platform.python_version(),
        np.__version__,
        numba.__version__,
        llvmlite.__version__,
        platform.machine(),
        str(llvmlite.binding.get_host_cpu_name()),
        str(llvmlite.binding.get_host_cpu_features().flatten()),
    )
    digest.update("\n".join(facts).encode())
    return digest.hexdigest()[:20]


def cache_folder() -> Path | None:
    """Folder the compiled kernels are kept in, made if it is not there.

    Returns
    -------
    folder : Path or None
        Named by `engine_hash`, under the folder the environment variable
        ``TOWERLIFT_CACHE`` names, else the user's cache folder. None where
        neither can be written; kernels are then compiled in every run.
    """
    named = os.environ.get(CACHE_VARIABLE)
    shared = os.environ.get("XDG_CACHE_HOME")
    root = Path(named or shared or Path.home() / ".cache")
    folder = root / "towerlift" / f"kernels-{engine_hash()}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return folder if os.access(folder, os.W_OK) else None


def kernel(function: F) -> F:
    """Compile `function` when first called, without the interpreter's lock.

    Parameters
    ----------
    function : callable
        Written in the part of Python and NumPy that numba compiles.

    Returns
    -------
    compiled : callable
        Takes and returns what `function` does. Threads may run it at once.
    """
    return _compiled(function, inlined=False)


def inlined(function: F) -> F:
    """Compile a short `function` into every kernel that calls it.

    Passing an array to a compiled function costs ten words; the innermost
    steps are shorter than that.

    Parameters
    ----------
    function : callable
        As for `kernel`.

    Returns
    -------
    compiled : callable
        As for `kernel`.
    """
    return _compiled(function, inlined=True)


def _compiled(function: F, *, inlined: bool) -> F:
    folder = cache_folder()
    # Numba reads the folder once, when the function is decorated; it is put
    # back so that nobody else's kernels land in ours.
    before = numba.config.CACHE_DIR
    if folder is not None:
        numba.config.CACHE_DIR = str(folder)
    try:
        compiled: F = numba.njit(
            nogil=True, error_model="numpy", cache=folder is not None, forceinline=inlined
        )(function)
    finally:
        numba.config.CACHE_DIR = before
    return compiled

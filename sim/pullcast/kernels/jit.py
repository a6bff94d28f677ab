"""How every kernel is compiled: one decorator, numpy division, fast-math flags that keep NaN and inf.

Compiled code is kept in the user's cache folder under a name made from the source of
*all* kernels: numba by itself does not notice when a kernel called by another one has
changed. ``NUMBA_CACHE_DIR`` overrides the place, ``NUMBA_DISABLE_JIT=1`` runs plainly.
"""

import hashlib
import os
import sys
from functools import cache
from pathlib import Path

import llvmlite.binding as llvm
import numba
from numba import njit

FLAGS = {"nsz", "arcp", "contract", "reassoc", "afn"}


@cache
def source_key():
    """Short hash of all kernel sources, of where and when they were written (numba asks that too), and of numba."""
    here = Path(__file__).resolve().parent
    digest = hashlib.sha256(f"{numba.__version__} {here}".encode())
    for path in sorted(here.glob("*.py")):
        digest.update(path.read_bytes() + str(path.stat().st_mtime_ns).encode())
    return digest.hexdigest()[:16]


def cache_folder():
    """Folder for compiled kernels: the platform's user cache folder, or what NUMBA_CACHE_DIR says."""
    if "NUMBA_CACHE_DIR" in os.environ:
        return Path(os.environ["NUMBA_CACHE_DIR"])
    if os.name == "nt":
        base = Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache"))
    return base / "pullcast" / f"kernels-{source_key()}"


numba.config.CACHE_DIR = str(cache_folder())

# The passes over all cells touch some twenty arrays each. LLVM vectorises such a loop only if it may check at run
# time that they do not overlap, and by default it gives up at eight comparisons: a factor of four in speed.
llvm.set_option("", "--runtime-memory-check-threshold=4000")
llvm.set_option("", "--vectorize-memory-check-threshold=4000")

# No reference counts (``_nrt``): a kernel allocates nothing, and counting the hundred arrays of a model up and down
# with every call that is handed the model took a tenth of the march.
COMMON = {"cache": True, "error_model": "numpy", "fastmath": FLAGS}
kernel = njit(**COMMON, _nrt=False)
inner = njit(**COMMON, _nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True)
# For what takes a whole model and is called from one place: handing over its arrays would cost more than the work.
merged = njit(**COMMON, _nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True, forceinline=True)
small = njit(**COMMON, _nrt=False, inline="always")
whole = njit(**COMMON, _nrt=False, nogil=True)  # entry points that threads may share
roomy = njit(**COMMON, nogil=True)  # the few that make arrays of their own


def stamp():
    """The file that says that every kernel of this version has been compiled and kept."""
    return cache_folder() / "compiled"


def is_warm():
    """True when the compiled kernels of this version lie in the cache (or the JIT is off)."""
    return bool(numba.config.DISABLE_JIT) or stamp().exists()

"""How every kernel is compiled: one decorator, numpy division, fast-math flags that keep NaN and inf.

Compiled code is kept in the user's cache folder under a name made from the source of
*all* kernels: numba by itself does not notice when a kernel called by another one has
changed. ``NUMBA_CACHE_DIR`` overrides the place, ``NUMBA_DISABLE_JIT=1`` runs plainly.
"""

import hashlib
import os
import sys
from pathlib import Path

import llvmlite.binding as llvm
import numba
from numba import njit

FLAGS = {"nsz", "arcp", "contract", "reassoc", "afn"}


def source_key():
    """Short hash of all kernel sources and of numba's version."""
    digest = hashlib.sha256(numba.__version__.encode())
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.read_bytes())
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

kernel = njit(cache=True, error_model="numpy", fastmath=FLAGS)
inner = njit(cache=True, error_model="numpy", fastmath=FLAGS, no_cpython_wrapper=True, no_cfunc_wrapper=True)
small = njit(cache=True, error_model="numpy", fastmath=FLAGS, inline="always")


def is_warm():
    """True when compiled kernels of this version lie in the cache (or the JIT is off)."""
    folder = cache_folder()
    return bool(numba.config.DISABLE_JIT) or any(folder.glob("**/march.march_cycle*.nbi"))
whole = njit(cache=True, error_model="numpy", fastmath=FLAGS, nogil=True)  # entry points that threads may share

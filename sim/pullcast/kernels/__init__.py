"""The numerics: numbers in, numbers out, compiled with numba (or run plainly with NUMBA_DISABLE_JIT=1).

Read in this order: ``layout`` (every array, named), ``march`` (one cycle), ``duct`` (the
gas), ``ends`` with ``roots`` and ``wave`` (what pipes open into), ``chamber`` (cylinders).
A kernel never raises: it returns a status code that ``pullcast.solve`` names.
"""

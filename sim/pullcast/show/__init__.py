"""Everything people look at: ``tables`` and ``findings`` for the terminal, ``plots`` for paper and screen.

Functions take finished values and return something to print or save; none of them computes an answer.
"""

CAUTION = (
    "A planning estimate: it does not show that an engine, part or test is safe. Dyno work has rotating parts, hot "
    "surfaces, fuel, noise and carbon monoxide: follow local codes and licensed practice."
)

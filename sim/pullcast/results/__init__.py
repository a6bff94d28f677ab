"""Results: predicted curves with units, provenance and files.

1. ``variables``: the one table of every number a curve holds, its unit and how it is shown.
2. ``provenance``: what is stored about where a result comes from.
3. ``dataset``: ``curve_dataset(speeds, arrays, provenance)`` makes the checked xarray Dataset.
4. ``curve``: ``Curve``, the finished value with peaks, band averages and a sentence for people.
5. ``corrected``, ``records``, ``files``: another basis; plain records for JSON and CSV; files.
"""

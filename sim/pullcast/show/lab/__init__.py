"""The live page: ``pullcast lab``.

1. ``shelf.Shelf`` is what can be picked; ``bench.Bench`` (a value) is what was picked and turned; ``bench.set_up``
   makes the engine of it. ``history.History`` undoes, ``address`` puts a bench into a link.
2. ``newest.Newest`` computes the lumped curve of the newest bench at once, ``behind.Behind`` marches the waves of all
   open pages in processes, in turn, the newest run of each page only; ``hush.Hush`` halts them meanwhile.
3. ``session.Session`` holds one open page together; ``page.html``, ``page.css`` and ``page.js`` are the page,
   ``wire`` carries messages between the two, ``curve_figures`` and ``cycle_figures`` are its live figures.
4. ``server.serve`` serves it on this machine alone; ``door.Door`` counts the open pages, lets those rest that nobody
   looks at, and puts those away that are still too long.

Nothing below 3 imports bokeh.
"""

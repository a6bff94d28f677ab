"""``pullcast explain``: why a swap costs what it costs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Literal

import typer

from pullcast.cli import out_files
from pullcast.cli.options import Card, Json, Units, parse_cell, parse_speeds, print_json
from pullcast.errors import InputError

CYCLE = "_cycle"  # picture of the cycle at the speed where the difference is largest


def explain(
    card: Card,
    swap: Annotated[list[str], typer.Option(metavar="PART=FILE", show_default=False, help="What the other engine has "
                                            "instead: intake=OTHER.toml, or a key as \"cam.advance=6 deg\". Can be "
                                            "repeated.")],
    speeds: Annotated[str | None, typer.Option(metavar="RPM", show_default=False, help="Speeds as first:last:step or "
                                               "a list with commas; default: five of the card's.")] = None,
    band: Annotated[str | None, typer.Option(metavar="LOW:HIGH", show_default=False, help="Speeds of the mean; "
                                             "default: all.")] = None,
    fidelity: Annotated[Literal["wave", "lumped"], typer.Option(help="Model of the split; lumped is quick and sees "
                                                                "no waves.")] = "wave",
    tune: Annotated[Literal["fixed", "mbt", "knock-limited"], typer.Option(
        help="Spark of both engines: the card's, their own of best torque, or that held back by knock.")] = "fixed",
    show_at: Annotated[str | None, typer.Option(metavar="RPM", show_default=False, help="Speeds at which the cycle "
                                                "is shown; default: where the difference is largest.")] = None,
    units: Units = "si",
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False, help="Write the page (.png "
                                                   ".svg .pdf) or the JSON document (.json); a folder gets them all, "
                                                   "with pictures of the cycle. Can be repeated.")] = None,
    cell: Annotated[str, typer.Option(metavar="LENGTH", help="Target length of the duct cells.")] = "25 mm",
    workers: Annotated[int | None, typer.Option(min=1, metavar="N", show_default=False,
                                                help="Processes; default: one per core.")] = None,
) -> None:
    """Explain a swap: which attribute of the part costs how much, where in the speed range, and why.

    Points are kept, so that the same question asked again is answered at once.

    \b
    Example:
      pullcast explain configs/engines/hillclimb_v8.toml --swap intake=intakes/v8_dual_plane.toml --out out
    """
    swaps = parse_swaps(swap)
    rpm = None if speeds is None else parse_speeds(speeds)
    limits = None if band is None else parse_band(band)
    at = None if show_at is None else parse_speeds(show_at)
    length = parse_cell(cell)
    files = out_files.targets(out or [], f"{card.stem}_explained", (".png", f"{CYCLE}.png", ".json"))

    from pullcast.answers.explain import explain as explained
    from pullcast.show import explain_tables
    from pullcast.solve.numerics import Numerics
    from pullcast.solve.store import Store

    with ticks(f"explaining {card.stem}") as on_tick, Store() as store:
        found = explained(card, swaps, speeds=rpm, band=limits, fidelity=fidelity, show_at=at,
                          numerics=Numerics(cell=length), store=store, workers=workers, on_tick=on_tick,
                          tune=tune)
    document = explain_tables.explanation_document(found, units)
    written = write(files, found, document, units)
    if json:
        print_json(document | {"files": [str(f) for f in written]})
        return
    from pullcast.show.tables import console

    screen = console()
    screen.print(explain_tables.explanation_view(found, units))
    for file in written:
        screen.print(f"Written: {file}", soft_wrap=True, markup=False)


def parse_swaps(texts: list[str]) -> dict[str, str]:
    """Swaps from "key=value" texts; InputError showing the form.

    >>> parse_swaps(["intake=other.toml", "cam.advance=6 deg"])
    {'intake': 'other.toml', 'cam.advance': '6 deg'}
    """
    swaps: dict[str, str] = {}
    for text in texts:
        key, sign, value = (w.strip() for w in text.partition("="))
        if not (sign and key and value):
            msg = (f"--swap {text!r}: give what is changed and what it becomes, as intake=OTHER.toml or "
                   "cam.advance=6 deg")
            raise InputError(msg)
        if key in swaps:
            msg = f"--swap {text!r}: {key} is swapped twice; say once what it becomes"
            raise InputError(msg)
        swaps[key] = value
    return swaps


def parse_band(text: str) -> tuple[float, float]:
    """Band from "low:high" (rpm); InputError showing the form."""
    try:
        low, high = (float(v) for v in text.split(":"))
    except ValueError:
        msg = f"--band {text!r}: give two speeds in rpm, as 3000:6000"
        raise InputError(msg) from None
    return low, high


def write(files: list[Path], found, document: dict, units: str) -> list[Path]:
    """Write pages, pictures of the cycle (one a speed shown) and document; which files there are now."""
    from pullcast.results.files import write_whole
    from pullcast.show.explain_plots import explain_figure
    from pullcast.show.look import save_figure
    from pullcast.show.why_plots import why_figure

    written = []
    for file in files:
        file.parent.mkdir(parents=True, exist_ok=True)
        if file.suffix.lower() == ".json":
            whole = out_files.as_json(document)
            written.append(write_whole(file, lambda p, whole=whole: p.write_text(whole, encoding="utf-8")))
        elif file.stem.endswith(f"_explained{CYCLE}"):
            for a, b in found.evidence:
                name = file.with_name(f"{file.stem}_{a.rpm:.0f}{file.suffix}")
                written.append(save_figure(why_figure(a, b, units), name))
        else:
            written.append(save_figure(explain_figure(found, units), file))
    return written


@contextmanager
def ticks(what: str) -> Iterator[Callable]:
    """A callback for the ticks of several runs in a row: each moves one bar on stderr, if that is a terminal."""
    from pullcast.cli.progress import points

    with points(0, what) as on_point:
        yield lambda tick: on_point(tick.rpm, max(tick.done, 1), tick.total, tick.note)

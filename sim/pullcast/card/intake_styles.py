"""Intake styles written out as pipes, volumes and junctions."""

from __future__ import annotations

import math
from dataclasses import replace

from pullcast.card.book import Book
from pullcast.card.classes import Range
from pullcast.card.engine import Block, End, Head, Junction, Pipe, Segment, Volume
from pullcast.card.free_form import cube_wall, entry_loss, open_end
from pullcast.card.intake_card import IntakeCard, RestrictorCard
from pullcast.card.section import circle, profile_volume, section_area, segments_of, stations_profile
from pullcast.card.throttle import plate_area, rated_area

Parts = tuple[list[Pipe], list[Volume], list[Junction], dict[str, float]]
_BOX = Range("volume", 4.0, 8.0, 15.0,
             "displacement")  # air box of a class that has none (common practice, no source)
SIDE = 90.0  # deg, direction in which a runner leaves the plenum's axis


def plenum_runners(card: IntakeCard, block: Block, head: Head, book: Book) -> Parts:
    """One throttle group, one plenum (a volume, or ducts in series if it has a length), one runner per cylinder."""
    volume = book.take(card.plenum.volume, "intake.plenum.volume")
    runners, facts = _runners(card, block, head, book)
    facts["plenum_volume"] = volume
    if card.plenum.length is None:
        entry, more = _entry(card, "plenum", 1.0, "throttle", book)
        pipes = [*entry, *(_from(r, "plenum") for r in runners)]
        return pipes, [_volume("plenum", volume, book), *_airboxes(card, book)], [], facts | more
    return _plenum_in_series(card, block, volume, runners, facts, book)


def _plenum_in_series(card: IntakeCard, block: Block, volume: float, runners: list[Pipe], facts: dict[str, float],
                      book: Book) -> Parts:
    """A long plenum: stations joined by ducts of the plenum's mean section; its volume is kept."""
    order = _stations_order(card, block, book)
    m, length = len(order), float(card.plenum.length)
    facts["plenum_length"] = length
    area, step = volume / length, length / m
    names = [f"plenum {i + 1}" for i in range(m)]
    junctions = [Junction(name, volume / m**2) for name in names]
    wall = Segment(step, area, area, **_walls(book))
    ducts = [Pipe(f"plenum {i + 1} to {i + 2}", End(names[i], angle_deg=0.0), End(names[i + 1], angle_deg=180.0),
                  (wall,))
             for i in range(m - 1)]
    at = names[0] if card.plenum.throttle_at == "end" else names[(m - 1) // 2]
    entry, more = _entry(card, at, 1.0, "throttle", book)
    facing = 180.0 if card.plenum.throttle_at == "end" else SIDE + 180.0
    entry[-1] = replace(entry[-1], end=replace(entry[-1].end, angle_deg=facing))
    where = {k: (names[i], SIDE if j % 2 == 0 else SIDE + 180.0) for i, group in enumerate(order) for j,
             k in enumerate(group)}
    fed = [_from(r, *where[i + 1]) for i, r in enumerate(runners)]
    return [*entry, *ducts, *fed], _airboxes(card, book), junctions, facts | more


def _stations_order(card: IntakeCard, block: Block, book: Book) -> list[tuple[int, ...]]:
    everyone = list(range(1, block.cylinders + 1))
    if card.plenum.order is not None:
        if sorted(k for group in card.plenum.order for k in group) == everyone:
            return list(card.plenum.order)
        book.problem("intake.plenum.order", f"the stations do not name cylinders 1 to {block.cylinders} once each",
                     "Name each cylinder once, from the throttle on.")
    if len(block.banks) > 1:
        return list(zip(*block.banks, strict=False))
    return [(k,) for k in everyone]


def dual_plane(card: IntakeCard, block: Block, head: Head, book: Book) -> Parts:
    """Two plenums, each with half the throttle bores and every other cylinder of the firing order."""
    planes = card.planes or (block.firing_order[0::2], block.firing_order[1::2])
    if sorted(k for plane in planes for k in plane) != list(range(1, block.cylinders + 1)) or len(planes) != 2:
        book.problem("intake.planes", f"the planes do not hold cylinders 1 to {block.cylinders} once each in two "
                     f"groups",
                     "Name each cylinder once: planes = [[1, 4, 6, 7], [2, 3, 5, 8]].")
        planes = (block.firing_order[0::2], block.firing_order[1::2])
    volume = book.take(card.plenum.volume, "intake.plenum.volume")
    runners, facts = _runners(card, block, head, book)
    pipes: list[Pipe] = []
    for letter in ("a", "b"):
        entry, more = _entry(card, f"plenum {letter}", 0.5, f"throttle {letter}", book)
        pipes += entry
    facts |= {"plenum_volume": volume, "throttle_area": 2 * more["throttle_area"]}
    for k, runner in enumerate(runners, start=1):
        pipes.append(_from(runner, "plenum a" if k in planes[0] else "plenum b"))
    if card.divider_area is not None:
        link = Segment(0.05, card.divider_area, card.divider_area, **_walls(book))
        pipes.append(Pipe("divider", End("plenum a", loss_in=0.5), End("plenum b", loss_in=0.5), (link,)))
    volumes = [_volume(f"plenum {letter}", volume / 2, book) for letter in ("a", "b")]
    return pipes, volumes + _airboxes(card, book), [], facts


def individual(card: IntakeCard, block: Block, head: Head, book: Book) -> Parts:
    """One duct for each cylinder with its own throttle, from the open air or from an air box.

    The runner's length is that of the whole duct, throttle body (at its open end) included.
    """
    source = "airbox" if card.airbox is not None else "ambient"
    t = card.throttle
    count, diameter = t.count or 1, book.take(t.diameter, "intake.throttle.diameter")
    body = count * circle(diameter)
    share = _plate(card, diameter, 1, book) / circle(diameter)
    loss = (1.0 / share - 1.0) ** 2  # sudden expansion behind the plate (Borda-Carnot)
    length = book.take(t.body_length, "intake.throttle.body_length")
    inner, facts = _runners(card, block, head, book, plenum_area=body, body=length)
    pipes = []
    for runner in inner:
        throttle = Segment(min(length, runner.length), body, body, bend_loss=loss, **_walls(book))
        if source == "ambient":
            start = End("ambient", loss_in=runner.start.loss_in, end_length=open_end(body))
        else:
            start = replace(runner.start, node=source)
        pipes.append(Pipe(runner.name, start, runner.end, (throttle, *runner.segments)))
    facts |= {"throttle_area": body * share, "throttle_bore": diameter, "throttle_in_runner": 1.0}
    return _snorkel(card, book) + pipes, _airboxes(card, book), [], facts


def _walls(book: Book) -> dict[str, float]:
    return {"wall_temperature": book.tract("intake.wall_temperature"), "roughness": book.tract("intake.roughness"),
            "heat_factor": book.tract("intake.heat_factor")}


def _volume(name: str, volume: float, book: Book) -> Volume:
    return Volume(name, volume, book.tract("intake.wall_temperature"), cube_wall(volume))


def _from(runner: Pipe, node: str, angle: float = SIDE) -> Pipe:
    """The runner with its upstream end at ``node``."""
    return replace(runner, start=replace(runner.start, node=node, angle_deg=angle))


def _runners(card: IntakeCard, block: Block, head: Head, book: Book,
             plenum_area: float | None = None, body: float = 0.0) -> tuple[list[Pipe], dict[str, float]]:
    """A runner pipe for each cylinder, upstream node yet open; and facts on the first.

    ``body`` (m) of each length, at most half of it, is left to the throttle body.
    """
    r = card.runner
    port = sum(s.length for s in head.intake.port)
    cut = port if r.measured_from == "valve" else 0.0
    stated = stations_profile(r.stations, "intake.runner.stations", book) if r.stations else None
    lengths = _lengths(card, block, stated, cut, book)
    profile = stated or _tapered(card, plenum_area, book)
    loss = entry_loss(r.entry, r.entry_loss, "intake.runner.entry_loss", book)
    bend = book.take(r.bend_loss, "intake.runner.bend_loss")
    walls = _walls(book)
    pipes = []
    for k, length in enumerate(lengths, start=1):
        rest = max(length - body, 0.5 * length)
        scaled = [(x / profile[-1][0] * rest, a) for x, a in profile]
        segments = segments_of(scaled, lambda **shape: Segment(**shape, **walls), bend)
        pipes.append(Pipe(f"runner {k}", End("", loss_in=loss, shaped=True), End(f"port {k}"), segments))
    first = [(x / profile[-1][0] * pipes[0].length, a) for x, a in profile]
    _check_volume(card, profile_volume(first), book)
    facts = {"runner_length": sum(lengths) / len(lengths), "runner_volume": profile_volume(first),
             "runner_area": first[-1][1], "runner_area_plenum": first[0][1], "port_length": port,
             "measured_from_valve": float(r.measured_from == "valve")}
    return pipes, facts


def _lengths(card: IntakeCard, block: Block, stated: list | None, cut: float, book: Book) -> list[float]:
    """Length of each runner to the flange, m."""
    r, n = card.runner, block.cylinders
    if r.lengths is not None and r.length is not None:
        book.problem("intake.runner.length", "length and lengths are both given", "Keep one of the two.")
    if r.lengths is not None:
        if len(r.lengths) != n:
            book.problem("intake.runner.lengths", f"{len(r.lengths)} lengths for {n} cylinders", "Give one for each.")
            return [0.2] * n
        lengths = [v - cut for v in r.lengths]
    elif stated is not None:
        lengths = [(float(r.length) if r.length is not None else stated[-1][0]) - cut] * n
    else:
        lengths = [book.take(r.length, "intake.runner.length") - (cut if r.length is not None else 0.0)] * n
    if min(lengths) < 0.008:
        book.problem("intake.runner.length", f"less the head port of {cut * 1e3:.0f} mm, {min(lengths) * 1e3:.0f} mm "
                     f"of runner "
                     "is left", 'Is the length measured from the flange? measured_from = "flange".')
        return [0.2] * n
    return lengths


def _tapered(card: IntakeCard, plenum_area: float | None, book: Book) -> list[tuple[float, float]]:
    """(share of the length, area) from the plenum to the head."""
    r = card.runner
    area = section_area(r, "intake.runner", book)
    if area is None:
        area = book.take(None, "intake.runner.area")
    start = section_area(r, "intake.runner", book, "_plenum")
    if start is not None and r.taper is not None:
        book.problem("intake.runner.taper", "taper and the section at the plenum are both given",
                     "Keep one of the two.")
    if start is None:
        fixed = plenum_area is not None and r.taper is None
        start = plenum_area if fixed else area * book.take(r.taper, "intake.runner.taper")
    return [(0.0, start), (1.0, area)]


def _check_volume(card: IntakeCard, volume: float, book: Book) -> None:
    given = card.runner.volume
    if given is not None and abs(volume / given - 1.0) > 0.12:
        book.found("contradiction", "intake.runner.volume", f"length and sections make a runner of "
                   f"{volume * 1e6:.0f} cc, the "
                   f"card states {given * 1e6:.0f} cc",
                   "Volume over length is the true mean area: a gasket window leaves out the taper.")


def _plate(card: IntakeCard, diameter: float, count: int, book: Book) -> float:
    """Effective area (m2) of ``count`` throttle bores as opened."""
    t = card.throttle
    book.scales["throttle diameter"] = diameter
    shaft = book.take(t.shaft, "intake.throttle.shaft")
    if shaft >= 0.9 * diameter:
        book.problem("intake.throttle.shaft", f"a shaft of {shaft * 1e3:.1f} mm shuts a bore of {diameter * 1e3:.1f} "
                     f"mm",
                     "Check the units.")
        shaft = 0.1 * diameter
    closed = book.take(t.closed_angle, "intake.throttle.closed_angle")
    opening = book.take(t.opening, "intake.throttle.opening")
    area = plate_area(diameter, shaft, closed, opening)
    if area <= 1e-7:
        book.problem("intake.throttle.opening", f"at {opening:g} deg the plate is shut",
                     "Full throttle is 85 to 90 deg.")
        area = circle(diameter)
    return count * book.take(t.coefficient, "intake.throttle.coefficient") * area


def _throttle(card: IntakeCard, share: float, book: Book) -> tuple[float, float, float]:
    """Bore area, effective area (both m2, ``share`` of all bores) and bore diameter (m)."""
    t = card.throttle
    count = t.count or (4 if book.engine_class.layout == "v" and book.engine_class.cylinders == 8 else 1)
    diameter = book.take(t.diameter, "intake.throttle.diameter")
    area = share * count * circle(diameter)
    if t.rating is None:
        return area, share * _plate(card, diameter, count, book), diameter
    if t.rated_at is None:
        book.problem("intake.throttle.rated_at", "a flow rating without the pressure drop it is counted at",
                     'Four-barrel carburettors are rated at 1.5 inHg, two-barrels at 3: rated_at = "1.5 inHg".')
        return area, area * 0.7, diameter
    if t.opening is not None:
        book.found("doubt", "intake.throttle.opening", f"an opening of {t.opening:g} deg is not used: the rating is "
                   "that of the open carburettor", "Take the rating away to have the throttle partly open.")
    effective = share * rated_area(t.rating, t.rated_at)
    if effective > area:
        book.found("contradiction", "intake.throttle.rating",
                   f"the rating needs {effective * 1e4:.1f} cm2, the bores have "
                   f"{area * 1e4:.1f} cm2", "Check the number of bores, their size and the drop of the rating.")
        effective = 0.95 * area
    return area, effective, diameter


def _entry(card: IntakeCard, node: str, share: float, name: str, book: Book) -> tuple[list[Pipe], dict[str, float]]:
    """Pipes from the open air (or air box) through throttle and restrictor to ``node``."""
    bore, effective, diameter = _throttle(card, share, book)
    facts = {"throttle_area": effective, "throttle_bore": diameter}
    length = book.take(card.throttle.body_length, "intake.throttle.body_length")
    loss = book.take(card.throttle.inlet_loss, "intake.throttle.inlet_loss")
    source = "ambient" if card.airbox is None else "airbox"
    if card.restrictor is not None or "intake.restrictor.diameter" in book.engine_class.rows:
        return [*_once(card, share, book), _restrictor(card, node, bore, effective, loss, source, name, facts,
                                                       book)], facts
    start = End(source, loss_in=loss, end_length=open_end(bore) if source == "ambient" else 0.0)
    body = Segment(length, bore, bore, **_walls(book))
    return [*_once(card, share, book), Pipe(name, start, End(node, area=effective, angle_deg=180.0), (body,))], facts


def _once(card: IntakeCard, share: float, book: Book) -> list[Pipe]:
    """The snorkel, with the first entry only."""
    if card.airbox is None or book.scales.get("snorkel made"):
        return []
    book.scales["snorkel made"] = 1.0
    return _snorkel(card, book)


def _restrictor(card: IntakeCard, node: str, bore: float, effective: float, loss: float, source: str, name: str,
                facts: dict[str, float], book: Book) -> Pipe:
    """A restrictor: the pipe starts at its throat, so that it chokes there, and widens to the throttle's bore.

    What the air loses before it (inlet and throttle plate) is put on the throat's dynamic head.
    """
    r = card.restrictor or RestrictorCard()
    diameter = book.take(r.diameter, "intake.restrictor.diameter")
    throat = book.take(r.coefficient, "intake.restrictor.coefficient") * circle(diameter)
    long = book.take(r.diffuser_length, "intake.restrictor.diffuser_length")
    before = (loss * (effective / bore) ** 2 + (1.0 - effective / bore) ** 2) * (throat / effective) ** 2
    facts |= {"restrictor_area": throat, "restrictor_diameter": diameter}
    walls, wide = _walls(book), max(bore, 2.0 * throat)
    separation = book.take(r.diffuser_loss, "intake.restrictor.diffuser_loss")
    return Pipe(name, End(source, loss_in=before), End(node, angle_deg=180.0),
                (Segment(0.012, throat, throat, **walls),
                 Segment(long, throat, wide, bend_loss=separation / _mean_head(throat, wide), **walls)))


def _mean_head(throat: float, wide: float) -> float:
    """Mean dynamic head along a cone over that of its throat: the mean of (d0/d)^4 for diameters linear in length."""
    r = math.sqrt(wide / throat)
    return (1.0 - r**-3) / (3.0 * (r - 1.0))


def _airboxes(card: IntakeCard, book: Book) -> list[Volume]:
    if card.airbox is None:
        return []
    row = book.engine_class.rows.get("intake.airbox.volume", _BOX)
    volume = book.take(card.airbox.volume, "intake.airbox.volume", row)
    wall = book.take(card.airbox.wall_temperature, "intake.airbox.wall_temperature")
    return [Volume("airbox", volume, wall, cube_wall(volume))]


def _snorkel(card: IntakeCard, book: Book) -> list[Pipe]:
    """The pipe from the open air into the air box; no size given: the throttles' bore."""
    box = card.airbox
    if box is None:
        return []
    area = box.snorkel_count * circle(box.snorkel_diameter) if box.snorkel_diameter is not None else None
    if area is None:
        book.problem("intake.airbox.snorkel_diameter", "the air box has no snorkel",
                     'Give snorkel_diameter = "70 mm".')
        area = 0.004
    length = book.take(box.snorkel_length, "intake.airbox.snorkel_length")
    loss = book.take(box.inlet_loss, "intake.airbox.inlet_loss")
    return [Pipe("snorkel", End("ambient", loss_in=loss, end_length=open_end(area)), End("airbox"),
                 (Segment(length, area, area, **_walls(book)),))]

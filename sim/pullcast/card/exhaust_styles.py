"""Exhaust styles written out as pipes, volumes and junctions."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

from pullcast.card.book import Book
from pullcast.card.engine import Block, End, Junction, Pipe, Segment, Tract, Volume
from pullcast.card.exhaust_card import ExhaustCard, TubeCard
from pullcast.card.free_form import cube_wall, open_end
from pullcast.card.section import circle, tube_id

Groups = tuple[tuple[int, ...], ...]
LINK_LENGTH = 0.30  # m, link of an "h" between two banks' pipes (common practice, no source)


def write_out(card: ExhaustCard, block: Block, book: Book) -> Tract:
    """The tract of a header style."""
    style = card.style or _usual_style(block, book)
    groups = _groups(card, style, block, book)
    facts: dict[str, float] = {}
    if style == "log":
        pipes, junctions = _log(card, groups, book, facts)
    else:
        pipes, junctions = _primaries(card, block, "single" if style == "single" else style, groups, book, facts)
    volumes: list[Volume] = []
    if style != "single":
        more, rooms, crossings = _after(card, len(groups), len(groups[0]), book, facts)
        pipes, volumes, junctions = pipes + more, rooms, junctions + crossings
    elif card.muffler is not None or card.tailpipe is not None:
        pipes, volumes = _muffled_singles(card, pipes, book)
    return Tract(card.name, tuple(pipes), tuple(volumes), tuple(junctions), facts)


def _usual_style(block: Block, book: Book) -> str:
    usual = book.engine_class.exhaust_style
    if block.cylinders == book.engine_class.cylinders:
        return usual
    return "single" if block.cylinders == 1 else f"{len(block.banks[0])}-1"


def _groups(card: ExhaustCard, style: str, block: Block, book: Book) -> Groups:
    """Cylinders that share a collector."""
    n = block.cylinders
    everyone = tuple(range(1, n + 1))
    if style == "single":
        return tuple((k,) for k in everyone)
    size = 3 if style == "6-2" else len(block.banks[0]) if style == "log" else int(style.split("-")[0])
    if card.groups is not None:
        if sorted(k for g in card.groups for k in g) != list(everyone):
            book.problem("exhaust.groups", f"the groups do not hold cylinders 1 to {n} once each",
                         "Name each cylinder once: groups = [[1, 3, 5, 7], [2, 4, 6, 8]].")
            return (everyone,)
        return card.groups
    if all(len(bank) == size for bank in block.banks):
        return block.banks
    if n % size == 0 and len(block.banks) == 1:
        return tuple(everyone[i:i + size] for i in range(0, n, size))
    book.problem("exhaust.style", f"a {style} header does not fit {n} cylinders in banks of "
                 f"{', '.join(str(len(b)) for b in block.banks)}", "Choose another style or give groups.")
    return (everyone,)


def _tube(tube: TubeCard, key: str, book: Book, wall_needed: bool = True) -> float:
    """Inside diameter (m) of a tube table."""
    wall = tube.wall
    if tube.od is not None and tube.id is None and wall is None and wall_needed:
        wall = book.take(None, f"{key}.wall", book.row("exhaust.primary.wall"))
    inner = tube_id(tube.od, wall, tube.id)
    if inner is None:
        return book.take(None, f"{key}.id")
    if tube.od is not None and tube.id is not None and tube.wall is not None:
        expect = tube.od - 2 * tube.wall
        if abs(expect - tube.id) > 0.0006:
            book.found("contradiction", f"{key}.id", f"od less two walls is {expect * 1e3:.1f} mm, id is "
                       f"{tube.id * 1e3:.1f} mm "
                       "(which was used)", "Measure the bore.")
    book.stated(tube.id if tube.id is not None else tube.od, f"{key}.{'id' if tube.id is not None else 'od'}",
                "length")
    if inner <= 0.004:
        book.problem(f"{key}.od", "the wall leaves no bore", "Check od and wall.")
        return 0.04
    return inner


def _walls(tube: TubeCard, key: str, book: Book) -> dict[str, float]:
    hot = key if f"{key}.wall_temperature" in book.engine_class.rows else "exhaust"
    return {
        "wall_temperature": book.take(tube.wall_temperature or book.given_for.get("exhaust.wall_temperature"),
                                      f"{hot}.wall_temperature"),
        "roughness": book.tract("exhaust.roughness"),
        "heat_factor": book.take(tube.heat_factor or book.given_for.get("exhaust.heat_factor"), f"{hot}.heat_factor"),
    }


def _fan(count: int, half: float) -> list[float]:
    """Directions (deg) in which ``count`` tubes leave a merge, around 180."""
    if count == 1:
        return [180.0]
    if count == 3:
        return [180.0 - half, 180.0, 180.0 + half]
    return [180.0 + (half if i % 2 else -half) for i in range(count)]


def _primary_segments(card: ExhaustCard, length: float, book: Book, inner: float) -> tuple[Segment, ...]:
    walls = _walls(card.primary, "exhaust.primary", book)
    bend = book.take(card.primary.bend_loss, "exhaust.primary.bend_loss")
    pieces = [(length, circle(inner))]
    for i, step in enumerate(card.primary.step):
        wall = step.wall if step.wall is not None else card.primary.wall or (book.row("exhaust.primary.wall").value)
        bore = tube_id(step.od, wall, step.id)
        if bore is None or bore <= 0.004:
            book.problem(f"exhaust.primary.step.{i}", "the step has no bore", "Give id, or od and wall.")
            continue
        pieces.append((float(step.length), circle(bore)))
    total = sum(p[0] for p in pieces)
    return tuple(Segment(le, a, a, bend_loss=bend * le / total, **walls) for le, a in pieces)


def _primaries(card: ExhaustCard, block: Block, style: str, groups: Groups, book: Book,
               facts: dict[str, float]) -> tuple[list[Pipe], list[Junction]]:
    inner = _tube(card.primary, "exhaust.primary", book)
    lengths = card.primary.lengths
    if lengths is not None and card.primary.length is not None:
        book.problem("exhaust.primary.length", "length and lengths are both given", "Keep one of the two.")
    if lengths is not None and len(lengths) != block.cylinders:
        book.problem("exhaust.primary.lengths", f"{len(lengths)} lengths for {block.cylinders} cylinders",
                     "Give one for each.")
        lengths = None
    if lengths is None:
        lengths = (book.take(card.primary.length, "exhaust.primary.length"),) * block.cylinders
    facts |= {"primary_length": sum(lengths) / len(lengths), "primary_id": inner,
              "primary_bore_stated": float(card.primary.id is not None)}
    book.scales |= {"primary id": inner}
    half = book.take(card.collector.merge_half_angle,
                     "exhaust.collector.merge_half_angle") if style != "single" else 0.0
    pipes, junctions = [], []
    for g, group in enumerate(groups, start=1):
        teams = _pairs(card, group, block, book) if style == "4-2-1" else [group]
        if style == "4-2-1":
            more, joined = _secondaries(card, g, len(teams), half, book, facts)
            pipes += more
            junctions += joined
        if style != "single":
            junctions.append(Junction(f"collector {g} merge"))
        for t, team in enumerate(teams, start=1):
            node = f"collector {g} merge" if style != "4-2-1" else f"collector {g} pair {t}"
            for k, angle in zip(team, _fan(len(team), half), strict=True):
                segments = _primary_segments(card, float(lengths[k - 1]), book, inner)
                end = End(node, angle_deg=angle)
                if style == "single":
                    end = End("ambient", end_length=open_end(segments[-1].area_end))
                pipes.append(Pipe(f"primary {k}", End(f"port {k}"), end, segments))
    return pipes, junctions


def _pairs(card: ExhaustCard, group: tuple[int, ...], block: Block, book: Book) -> list[tuple[int, ...]]:
    """Pairs of a 4-2-1: given, or the cylinders farthest apart in the firing order."""
    if card.pairs is not None:
        mine = [p for p in card.pairs if set(p) <= set(group)]
        if sorted(k for p in mine for k in p) == sorted(group):
            return mine
        book.problem("exhaust.pairs", f"the pairs do not hold cylinders {list(group)} once each",
                     "Name each cylinder once.")
    order = [k for k in block.firing_order if k in group]
    half = len(order) // 2
    return [(order[i], order[i + half]) for i in range(half)]


def _secondaries(card: ExhaustCard, g: int, count: int, half: float, book: Book,
                 facts: dict[str, float]) -> tuple[list[Pipe], list[Junction]]:
    inner = _tube(card.secondary, "exhaust.secondary", book)
    length = book.take(card.secondary.length, "exhaust.secondary.length")
    facts |= {"secondary_length": length, "secondary_id": inner}
    walls = _walls(card.secondary, "exhaust.secondary", book)
    segment = Segment(length, circle(inner), circle(inner), bend_loss=float(card.secondary.bend_loss or 0.0), **walls)
    names = [f"collector {g} pair {t}" for t in range(1, count + 1)]
    pipes = [Pipe(f"secondary {g} {t}", End(name), End(f"collector {g} merge", angle_deg=angle), (segment,))
             for t, (name, angle) in enumerate(zip(names, _fan(count, half), strict=True), start=1)]
    return pipes, [Junction(n) for n in names]


def _after(card: ExhaustCard, count: int, merged: int, book: Book,
           facts: dict[str, float]) -> tuple[list[Pipe], list[Volume], list[Junction]]:
    """Collectors and what follows them."""
    c = card.collector
    book.scales["root of merged primaries"] = book.scales["primary id"] * math.sqrt(merged)
    inner = _tube(c, "exhaust.collector", book)
    length = book.take(c.length, "exhaust.collector.length")
    facts |= {"collector_length": length, "collector_id": inner}
    last = circle(c.id_end) if c.id_end is not None else circle(inner)
    walls = _walls(c, "exhaust.collector", book)
    collector = Segment(length, circle(inner), last, bend_loss=float(c.bend_loss or 0.0), **walls)
    tail = _tail(card, last, book, facts)
    pipes, volumes, junctions = [], [], []
    for g in range(1, count + 1):
        start = End(f"collector {g} merge", angle_deg=0.0)
        if card.muffler is not None:
            volumes.append(Volume(f"muffler {g}", float(card.muffler.volume), book.tract("exhaust.wall_temperature"),
                                  cube_wall(card.muffler.volume)))
            pipes.append(Pipe(f"collector {g}", start, End(f"muffler {g}"), (collector,)))
            out = tail or (Segment(0.25, last, last, **_walls(c, "exhaust.collector", book)),)
            loss = book.take(card.muffler.loss, "exhaust.muffler.loss", book.row("exhaust.tailpipe.loss"))
            pipes.append(Pipe(f"tailpipe {g}", End(f"muffler {g}", loss_in=loss), _open(out), out))
        else:
            body = (collector, *tail)
            pipes.append(Pipe(f"collector {g}", start, _open(body), body))
    if card.crossover is not None:
        return _cross(card, pipes, volumes, junctions, book)
    return pipes, volumes, junctions


def _open(segments: tuple[Segment, ...]) -> End:
    return End("ambient", end_length=open_end(segments[-1].area_end))


def _tail(card: ExhaustCard, area: float, book: Book, facts: dict[str, float]) -> tuple[Segment, ...]:
    """Segments of the tailpipe, none if the card has none; its bore is the collector's unless given."""
    t = card.tailpipe
    if t is None:
        return ()
    if t.length is None:
        book.problem("exhaust.tailpipe.length", "the tailpipe has no length", 'Give length = "600 mm".')
        return ()
    sized = t.id is not None or t.od is not None
    bore = circle(_tube(t, "exhaust.tailpipe", book)) if sized else area
    facts["tailpipe_length"] = float(t.length)
    return (Segment(float(t.length), bore, bore, bend_loss=float(t.bend_loss or 0.0), **_walls(t, "exhaust.tailpipe",
                                                                                               book)),)


def _cut_at(pipe: Pipe, distance: float) -> tuple[tuple[Segment, ...], tuple[Segment, ...]] | None:
    """Segments before and after ``distance`` from the start (sections linear in diameter); None if it is too long."""
    before: list[Segment] = []
    left = distance
    for i, s in enumerate(pipe.segments):
        if left < s.length - 0.02:
            share = left / s.length
            middle = (math.sqrt(s.area_start) * (1 - share) + math.sqrt(s.area_end) * share) ** 2
            first = replace(s, length=left, area_end=middle, bend_loss=s.bend_loss * share)
            rest = replace(s, length=s.length - left, area_start=middle, bend_loss=s.bend_loss * (1 - share))
            return (*before, first), (rest, *pipe.segments[i + 1:])
        before.append(s)
        left -= s.length
        if 0.0 <= left <= 0.02 and i < len(pipe.segments) - 1:
            return tuple(before), pipe.segments[i + 1:]
    return None


def _cross(card: ExhaustCard, pipes: list[Pipe], volumes: list[Volume], junctions: list[Junction],
           book: Book) -> tuple[list[Pipe], list[Volume], list[Junction]]:
    """Join the two banks' pipes some way after the collectors."""
    x = card.crossover
    mains = [p for p in pipes if p.name.startswith("collector")]
    others = [p for p in pipes if not p.name.startswith("collector")]
    reach = float(x.distance) + float(book.assumed["exhaust.collector.length"].value
                                      if card.collector.length is None else card.collector.length)
    cuts = [_cut_at(p, reach) for p in mains]
    if len(mains) != 2 or None in cuts:
        why = f"there are {len(mains)} collectors" if len(mains) != 2 else "the pipes end before it"
        book.problem("exhaust.crossover", f"a crossover joins two pipes, but {why}",
                     "Give a tailpipe longer than the crossover's distance.")
        return pipes, volumes, junctions
    nodes = ["crossover"] * 2 if x.kind == "x" else ["crossover 1", "crossover 2"]
    lean = 20.0 if x.kind == "x" else 0.0
    made = []
    for sign, p, cut, node in zip((1, -1), mains, cuts, nodes, strict=True):
        made.append(Pipe(p.name, p.start, End(node, angle_deg=180.0 + sign * lean), cut[0]))
        made.append(Pipe(f"after crossover {p.name[-1]}", End(node, angle_deg=sign * lean), p.end, cut[1]))
    if x.kind == "h":
        area = circle(x.id) if x.id is not None else cuts[0][0][-1].area_end
        link = Segment(float(x.length or LINK_LENGTH), area, area, **_walls(card.collector, "exhaust.collector",
                                                                            book))
        made.append(Pipe("crossover link", End(nodes[0], angle_deg=-90.0), End(nodes[1], angle_deg=90.0), (link,)))
    return [*made, *others], volumes, junctions + [Junction(n) for n in dict.fromkeys(nodes)]


def _log(card: ExhaustCard, groups: Groups, book: Book, facts: dict[str, float]) -> tuple[list[Pipe], list[Junction]]:
    """Straight manifolds: short outlets meeting a chamber pipe, joined port by port."""
    if card.log is None:
        book.problem("exhaust.log", "a log manifold needs its table", 'Give [log] id = "50 mm", spacing = "95 mm".')
        return [], []
    inner = _tube(card.primary, "exhaust.primary", book)
    length = float(card.primary.length) if card.primary.length is not None else 0.05
    facts |= {"primary_length": length, "primary_id": inner}
    area = circle(card.log.id)
    book.scales |= {"primary id": float(card.log.id) / math.sqrt(len(groups[0]))}
    walls = _walls(card.primary, "exhaust.primary", book)
    pipes, junctions = [], []
    for g, group in enumerate(groups, start=1):
        outlet = len(group) - 1 if card.log.outlet_at == "end" else len(group) // 2
        names = [f"log {g} {i + 1}" for i in range(len(group))]
        names[outlet] = f"collector {g} merge"
        junctions += [Junction(n) for n in names]
        for k, node in zip(group, names, strict=True):
            pipes.append(Pipe(f"primary {k}", End(f"port {k}"), End(node, angle_deg=90.0),
                              _primary_segments(card, length, book, inner)))
        run = Segment(float(card.log.spacing), area, area, **walls)
        pipes += [Pipe(f"log run {g} {i + 1}", End(a, angle_deg=0.0), End(b, angle_deg=180.0), (run,))
                  for i, (a, b) in enumerate(itertools.pairwise(names))]
    return pipes, junctions


def _muffled_singles(card: ExhaustCard, pipes: list[Pipe], book: Book) -> tuple[list[Pipe], list[Volume]]:
    """A muffler and tailpipe behind each single pipe."""
    made, volumes = [], []
    for i, p in enumerate(pipes, start=1):
        area = p.segments[-1].area_end
        tail = _tail(card, area, book, {})
        if card.muffler is None:
            body = (*p.segments, *tail)
            made.append(replace(p, segments=body, end=_open(body)))
            continue
        out = tail or (Segment(0.2, area, area, **_walls(card.primary, "exhaust.primary", book)),)
        loss = book.take(card.muffler.loss, "exhaust.muffler.loss", book.row("exhaust.tailpipe.loss"))
        volumes.append(Volume(f"muffler {i}", float(card.muffler.volume), book.tract("exhaust.wall_temperature"),
                              cube_wall(card.muffler.volume)))
        made += [replace(p, end=End(f"muffler {i}")), Pipe(f"tailpipe {i}", End(f"muffler {i}", loss_in=loss),
                                                           _open(out), out)]
    return made, volumes

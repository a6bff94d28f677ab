"""The bottom end: card table [block] and what it resolves to."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field, StrictInt, field_validator

from pullcast.card import fields as f
from pullcast.card.book import Book
from pullcast.card.engine import Block

# Usual firing orders, cylinders numbered from the front; V engines odd on one bank, even on the other
# (common practice, no source)
ORDERS = {
    ("single", 1): (1,), ("inline", 1): (1,), ("inline", 2): (1, 2), ("v", 2): (1, 2), ("flat", 2): (1, 2),
    ("inline", 3): (1, 3, 2), ("inline", 4): (1, 3, 4, 2), ("flat", 4): (1, 3, 2, 4), ("v", 4): (1, 3, 2, 4),
    ("inline", 5): (1, 2, 4, 5, 3), ("inline", 6): (1, 5, 3, 6, 2, 4), ("v", 6): (1, 2, 3, 4, 5, 6),
    ("v", 8): (1, 8, 4, 3, 6, 5, 7, 2),
}


class BlockCard(f.Table):
    """Table [block]: bore and stroke are needed, all else has a class default."""

    bore: f.Bore
    stroke: f.Bore
    cylinders: StrictInt | None = Field(None, ge=1, le=12)
    layout: Literal["single", "inline", "v", "flat"] | None = None
    bank_angle: f.quantity("angle", 0.0, 180.0) | None = None
    rod: f.quantity("length", 0.030, 0.600) | None = None
    pin_offset: f.Signed | None = None
    compression_ratio: f.quantity("fraction", 3.0, 25.0) | None = None
    chamber: f.ChamberVolume | None = None
    piston_dish: f.ChamberVolume | None = None  # negative: a dome
    gasket_thickness: f.Thickness | None = None
    gasket_bore: f.Bore | None = None
    deck_clearance: f.Signed | None = None  # piston below the deck: positive
    firing_order: tuple[StrictInt, ...] | None = None
    firing_intervals: f.series("angle", 1.0, 720.0) | None = None
    banks: tuple[tuple[StrictInt, ...], ...] | None = None

    @field_validator("firing_order")
    @classmethod
    def _once_each(cls, order: tuple[int, ...] | None) -> tuple[int, ...] | None:
        if order is None:
            return None
        twice = sorted({c for c in order if order.count(c) > 1})
        if twice:
            msg = f"cylinder {', '.join(map(str, twice))} is named twice in {list(order)}; name each once"
            raise ValueError(msg)
        if sorted(order) != list(range(1, len(order) + 1)):
            msg = f"{list(order)} does not name cylinders 1 to {len(order)} once each"
            raise ValueError(msg)
        return order


def resolve_block(card: BlockCard, book: Book) -> Block:
    """The block of a card, class defaults filled in; problems go to ``book``."""
    n = card.cylinders or (len(card.firing_order) if card.firing_order else book.engine_class.cylinders)
    layout = card.layout or (book.engine_class.layout if n > 1 else "single")
    book.scales |= {"bore": card.bore, "stroke": card.stroke,
                    "swept volume": math.pi / 4 * card.bore**2 * card.stroke}
    book.scales["displacement"] = n * book.scales["swept volume"]
    book.stated(card.bore, "block.bore", "length")
    book.stated(card.stroke, "block.stroke", "length")
    rod = book.take(card.rod, "block.rod")
    if rod < 0.6 * card.stroke + 0.5 * card.bore * 0.2:
        book.problem("block.rod", f"a rod of {rod * 1e3:.1f} mm cannot turn a stroke of {card.stroke * 1e3:.1f} mm",
                     "Give the length between the rod's centres.")
    order = _order(card, n, layout, book)
    return Block(
        cylinders=n, bore=float(card.bore), stroke=float(card.stroke), rod=rod, compression_ratio=_ratio(card, book),
        firing_order=order, firing_intervals_deg=_intervals(card, n, book), banks=_banks(card, n, layout, book),
        layout=layout, bank_angle_deg=_bank_angle(card, layout, book), pin_offset=float(card.pin_offset or 0.0))


def _bank_angle(card: BlockCard, layout: str, book: Book) -> float:
    if card.bank_angle is not None:
        return float(card.bank_angle)
    usual = {"v": book.engine_class.bank_angle_deg or 60.0, "flat": 180.0}
    return usual.get(layout, 0.0)


def _order(card: BlockCard, n: int, layout: str, book: Book) -> tuple[int, ...]:
    if card.firing_order is not None:
        if len(card.firing_order) != n:
            book.problem("block.firing_order", f"{len(card.firing_order)} cylinders are named but the engine has {n}",
                         "Name each cylinder once.")
        return card.firing_order
    if (layout, n) in ORDERS:
        return ORDERS[layout, n]
    book.problem("block.firing_order", f"there is no usual firing order for {layout} {n}", "Give firing_order.")
    return tuple(range(1, n + 1))


def _intervals(card: BlockCard, n: int, book: Book) -> tuple[float, ...]:
    given = card.firing_intervals
    if given is None:
        return (720.0 / n,) * n
    if len(given) != n or abs(sum(given) - 720.0) > 0.5:
        book.problem("block.firing_intervals", f"{len(given)} intervals that sum to {sum(given):g} deg do not make a "
                     f"cycle of {n} firings in 720 deg",
                     "Give one interval per cylinder, from each firing to the next.")
        return (720.0 / n,) * n
    return given


def _banks(card: BlockCard, n: int, layout: str, book: Book) -> tuple[tuple[int, ...], ...]:
    everyone = tuple(range(1, n + 1))
    if card.banks is not None:
        if sorted(c for bank in card.banks for c in bank) != list(everyone):
            book.problem("block.banks", f"the banks do not hold cylinders 1 to {n} once each",
                         "Name each cylinder once.")
        return card.banks
    if layout in ("v", "flat") and n > 1:
        return everyone[0::2], everyone[1::2]
    return (everyone,)


def _ratio(card: BlockCard, book: Book) -> float:
    """Compression ratio: as given, or from the measured volumes; both given are compared."""
    volumes = _clearance(card)
    if volumes is None:
        if card.piston_dish is not None or card.gasket_thickness is not None or card.deck_clearance is not None:
            book.problem("block.chamber", "clearance volumes are given but not the chamber",
                         'Give chamber = "64 cc".')
        return book.take(card.compression_ratio, "block.compression_ratio")
    if volumes <= 0:
        book.problem("block.chamber", f"the volumes at top dead centre sum to {volumes * 1e6:.1f} cc",
                     "A dome is a negative piston_dish smaller than the chamber.")
        return 10.0
    ratio = 1.0 + book.scales["swept volume"] / volumes
    if not 3.0 < ratio < 25.0:
        book.problem("block.chamber", f"the volumes make a compression ratio of {ratio:.2f}",
                     "Check chamber, piston_dish, gasket and deck_clearance.")
    if card.compression_ratio is None:
        return ratio
    if abs(ratio - card.compression_ratio) > max(0.15, 0.015 * ratio):
        book.found("contradiction", "block.compression_ratio",
                   f"ratio {card.compression_ratio:.2f} is stated but the measured volumes make {ratio:.2f}",
                   "An advertised ratio is usual; the measured volumes are better. The stated ratio was used.")
    return book.take(card.compression_ratio, "block.compression_ratio")


def _clearance(card: BlockCard) -> float | None:
    if card.chamber is None:
        return None
    gasket = (card.gasket_thickness or 0.0) * math.pi / 4 * (card.gasket_bore or card.bore) ** 2
    deck = (card.deck_clearance or 0.0) * math.pi / 4 * card.bore**2
    return card.chamber + (card.piston_dish or 0.0) + gasket + deck

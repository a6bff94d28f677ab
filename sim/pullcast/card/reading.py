"""From a card to an Engine: read, change, validate, resolve, and raise all problems at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, Field, ValidationError

from pullcast.card import fields as f
from pullcast.card.block import BlockCard, resolve_block
from pullcast.card.book import Book
from pullcast.card.cam import CamCard, resolve_cam
from pullcast.card.classes import CLASSES
from pullcast.card.engine import Engine
from pullcast.card.exhaust import resolve_exhaust
from pullcast.card.exhaust_card import ExhaustCard
from pullcast.card.faults import problems_of
from pullcast.card.free_form import nearest
from pullcast.card.head import HeadCard, resolve_head
from pullcast.card.intake import resolve_intake
from pullcast.card.intake_card import IntakeCard
from pullcast.card.running import (
    BurnCard,
    FrictionCard,
    LimitsCard,
    MixtureCard,
    RunCard,
    WallsCard,
    resolve_burn,
    resolve_friction,
    resolve_limits,
    resolve_mixture,
    resolve_speeds,
    resolve_walls,
)
from pullcast.card.tree import Tree, change, plant
from pullcast.card.weather_fuel import DayCard, FuelCard, resolve_day, resolve_fuel
from pullcast.errors import CardError, Problem
from pullcast.sheets.files import parse_sheet, read_sheet


class EngineCard(f.Table):
    """An engine card with its parts in place."""

    name: str
    class_: str = Field(alias="class")
    block: BlockCard
    head: HeadCard = HeadCard()
    cam: CamCard = CamCard()
    intake: IntakeCard = IntakeCard()
    exhaust: ExhaustCard = ExhaustCard()
    fuel: FuelCard = FuelCard()
    day: DayCard = DayCard()
    mixture: MixtureCard = MixtureCard()
    burn: BurnCard = BurnCard()
    walls: WallsCard = WallsCard()
    friction: FrictionCard = FrictionCard()
    limits: LimitsCard = LimitsCard()
    run: RunCard = RunCard()
    source: dict[str, str] = Field(default_factory=dict)


def read_engine(path: str | Path) -> Engine:
    """The engine of a card file and the part files it refers to.

    Raises CardError with every problem found: file, line, key, what is wrong, what fits.
    """
    path = Path(path)
    return resolve_tree(plant(read_sheet(path, path.name), path.parent))


def read_engine_text(text: str, folder: str | Path = ".", name: str = "card") -> Engine:
    """As :func:`read_engine` for a card held as text; part files are looked for from ``folder``."""
    return resolve_tree(plant(parse_sheet(text, name), Path(folder)))


def with_changes(card_path: str | Path, swaps: Mapping[str, Any]) -> Engine:
    """The engine of a card with parts swapped and keys changed, all else as on the card.

    ``swaps``: part kinds to part files ("intake": "intakes/long.toml") and key paths to values ("cam.advance":
    "4 deg", "block.compression_ratio": 11.0). A changed cam.advance moves the intake centreline to the lobe
    separation less the advance. Raises CardError as :func:`read_engine`, InputError for a path that leads nowhere.
    """
    path = Path(card_path)
    tree = plant(read_sheet(path, path.name), path.parent)
    change(tree, dict(swaps))
    return resolve_tree(tree)


def resolve_tree(tree: Tree) -> Engine:
    """The engine of a planted (and perhaps changed) tree; raises CardError with every problem found."""
    card = _validate(tree)
    if card is None:
        raise CardError(_sorted(tree.problems))
    book = Book(CLASSES[card.class_], tree.locate)
    if book.engine_class.bank_angle_deg and card.block.layout == "inline" and card.block.bank_angle:
        book.found("doubt", "block.bank_angle", "an inline engine has no bank angle")
    try:
        engine = _assemble(card, book, tree)
    except (ArithmeticError, LookupError, ValueError):
        if not book.problems:
            raise
        engine = None  # a fault noted before left no number to go on with
    problems = tree.problems + book.problems
    if problems or engine is None:
        raise CardError(_sorted(problems))
    return engine


def _assemble(card: EngineCard, book: Book, tree: Tree) -> Engine:
    """Resolve each table in the order in which their dimensions build on each other."""
    block = resolve_block(card.block, book)
    head = resolve_head(card.head, book)
    cam = resolve_cam(card.cam, book, advance_rules="cam.advance" in tree.changed)
    intake = resolve_intake(card.intake, block, head, book)
    exhaust = resolve_exhaust(card.exhaust, block, head, book)
    fuel, day = resolve_fuel(card.fuel, book), resolve_day(card.day, book)
    limits = resolve_limits(card.limits, fuel.liquid_density, book)
    speeds = resolve_speeds(card.run, limits.rpm, book)
    mixture = resolve_mixture(card.mixture, fuel.key, block.cylinders, book)
    burn = resolve_burn(card.burn, speeds, book)
    return Engine(
        name=card.name, engine_class=card.class_, block=block, head=head, cam=cam, intake=intake, exhaust=exhaust,
        fuel=fuel, mixture=mixture, day=day, burn=burn, walls=resolve_walls(card.walls, book),
        friction=resolve_friction(card.friction, book), limits=limits,
        speeds=speeds, source=" ".join(card.source.values()) or "not stated", assumed=tuple(book.assumed.values()),
        text=tree.text, findings=tuple(book.findings))


def _validate(tree: Tree) -> EngineCard | None:
    """The validated card, or None with the problems noted; every table is checked whatever the others hold."""
    try:
        card = EngineCard.model_validate(tree.data)
    except ValidationError as e:
        tree.problems += problems_of(e, EngineCard, "", tree.locate)
        _check_class(tree.data.get("class"), tree)
        return None
    return card if _check_class(card.class_, tree) else None


def _check_class(name: Any, tree: Tree) -> bool:
    if isinstance(name, str):
        if name in CLASSES:
            return True
        tree.problems.append(Problem(*tree.locate("class"), "class", f'"{name}" is not a class of engine',
                                     nearest(name, list(CLASSES))))
    return False


def _sorted(problems: list[Problem]) -> list[Problem]:
    return sorted(dict.fromkeys(problems), key=lambda p: (p.file, p.line or 0, p.key))


def card_keys() -> dict[str, type[BaseModel]]:
    """Top-level tables of an engine card and their models (documentation and starter cards are made from them)."""
    from pullcast.card.faults import table_at

    return {(i.alias or n): t for n, i in EngineCard.model_fields.items() if (t := table_at(EngineCard,
                                                                                            [n])) is not None}

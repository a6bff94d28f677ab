"""Run slips and good cards through reading and checks, and count."""

from __future__ import annotations

import random
import re
from dataclasses import dataclass

import slip_rules_more  # noqa: F401  (fills RULES)
from slip_cards import ENGINES, changed, flat, to_toml
from slip_rules import RULES, Rule

from pullcast.card import read_engine_text
from pullcast.card.checks import checks
from pullcast.errors import CardError

LOUD = ("contradiction", "doubt")


@dataclass(frozen=True)
class Told:
    """One thing the program said: key and words."""

    key: str
    words: str


@dataclass(frozen=True)
class Slip:
    """A slip on a card and what was said: caught is "yes", "elsewhere" (something else was said) or "no"."""

    rule: str
    engine: str
    changes: dict
    caught: str
    told: tuple[Told, ...]


def told(card: dict) -> tuple[Told, ...]:
    """Everything loud said about a card: problems if it is refused, else contradictions and doubts."""
    try:
        engine = read_engine_text(to_toml(card), name="card.toml")
    except CardError as e:
        return tuple(Told(p.key, f"{p.text}. {p.remedy}") for p in e.problems)
    return tuple(Told(f.key, f"{f.text}. {f.remedy}") for f in checks(engine) if f.level in LOUD)


def judge_slip(rule: Rule, engine: str, card: dict, changes: dict) -> Slip:
    """What the program said of one slip, beyond what it says of the good card."""
    before = {(t.key, t.words) for t in told(card)}
    said = tuple(t for t in told(changed(card, changes)) if (t.key, t.words) not in before)
    right = any(re.search(rule.keys, t.key) and re.search(rule.words, f"{t.key} {t.words}", re.I) for t in said)
    return Slip(rule.name, engine, changes, "yes" if right else "elsewhere" if said else "no", said)


def all_slips(seed: int) -> list[Slip]:
    """Every rule on every shipped engine it applies to."""
    out = []
    for engine in ENGINES:
        card = flat(engine)
        for rule in RULES:
            rng = random.Random(f"{seed} {engine} {rule.name}")
            changes = rule.apply(card, rng)
            if changes is not None:
                out.append(judge_slip(rule, engine, card, changes))
    return out

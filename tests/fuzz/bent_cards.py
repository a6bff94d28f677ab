"""Cards bent by a grammar of faults: values, units, types, keys, structure, bytes, encodings, numbers, references."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

CONFIGS = Path(__file__).parents[2] / "configs"
_LINE = re.compile(r"^([A-Za-z0-9_.\-]+)\s*=\s*(.*)$")

NUMBERS = (
    "nan",
    "inf",
    "-inf",
    "+nan",
    "0",
    "-0.0",
    "1e308",
    "1e400",
    "-1e400",
    "1e-320",
    "9" * 400,
    "9" * 5000,
    "0x10",
    "0b11",
    "1_000",
    "1__0",
    "00012",
    "1e",
    ".5",
    "5.",
    "true",
    "1979-05-27",
    "07:32:00",
    "1979-05-27T07:32:00Z",
)
UNITS = (
    "mm",
    "in",
    "cm2",
    "cc",
    "L",
    "kPa",
    "deg",
    "rpm",
    "C",
    "K",
    "cfm",
    "L/s",
    "kg",
    "%",
    "m/s",
    "furlong",
    "mm mm",
    "mm/in",
    "mm**9",
    "mm**(1e9)",
    "1/0",
    "°",
    "é",
    "mm; import os",
    "__import__('os')",
    "{x}",
    "deg BTDC",
    "deg ABDC",
    "\\u0000",
    "inH2O",
    "inHg",
    "N m",
    "cc/min",
    "g/min",
    "µm",
    "10**10**10 mm",
    "mm" * 300,
)
TEXTS = (
    '""',
    "''",
    '" "',
    '"\\u0000"',
    '"\\uFFFF"',
    '"' + "x" * 20000 + '"',
    '"' + "1 " * 5000 + 'mm"',
    '"1,5 mm"',
    '"-3 mm"',
    '"1e400 mm"',
    '"nan mm"',
    '"inf deg"',
    '"' + "9" * 5000 + ' mm"',
    '"１２ mm"',
    '"∞ mm"',
    '"0 mm"',
    '"1 2 3 mm"',
    '"..."',
    '"\\"" ',
    '"""',
    "'''x'''",
    '"{0.__class__}"',
    '"%s%n"',
    '"<script>alert(1)</script>"',
    '"\\t\\n"',
    '"\x7f"',
)
SHAPES = (
    "[]",
    "{}",
    "[[]]",
    "[1, [2, [3]]]",
    '{ value = "1 mm" }',
    '{ value = "1 mm", within = "nan mm" }',
    '{ value = { value = "1 mm" } }',
    '{ value = "1 mm", within = "1e400 mm" }',
    '{ within = "1 mm" }',
    '{ unit = "mm", values = [1, "x", nan] }',
    "{ unit = 3, values = 4 }",
    '{ unit = "mm", values = [] }',
    '["1 mm", 2, {}]',
    "[1979-05-27]",
    "[true, false]",
    "[1, 1, 1, 1]",
    "[[1, 2], [3, 99]]",
    "[[1, 3], [2, 4]]",
    "[" * 60 + "]" * 60,
    "[" * 3000 + "]" * 3000,
    "{a=" * 300 + "1" + "}" * 300,
    "[" + "1," * 3000 + "1]",
    '{ "value" = "1 mm", "value" = "2 mm" }',
    '"1 mm" "2 mm"',
    '{ at = "0 50 mm", area = "3 cm2" }',
    '[{ name = "a", from = "a", to = "a", length = "1 m", diameter = "1 cm" }]',
)
REFERENCES = (
    '"../../../../etc/passwd"',
    '"/etc/passwd"',
    '"/dev/zero"',
    '"/dev/stdin"',
    '"."',
    '".."',
    '"cams"',
    '"cams/"',
    '"engines/club_four.toml"',
    '"cams/none.toml"',
    '"C:\\\\x.toml"',
    '"~/x.toml"',
    '"file:///etc/passwd"',
    '"cams\\u0000"',
    '"' + "a/" * 3000 + '"',
    '"' + "n" * 300 + '.toml"',
    '"heads/v8_ported.toml"',
    '"fuels/../cams/v8_mild.toml"',
    '"http://localhost/x.toml"',
    '"con"',
    '"days/aldermoor_spring.toml "',
    '"$HOME"',
    '"`id`"',
    '"cams/*.toml"',
)
SECTIONS = (
    "[block]",
    "[[block]]",
    "[cam.intake]",
    "[[cam.intake]]",
    "[intake.pipe]",
    "[[intake.pipe]]",
    "[[intake.volume]]",
    "[intake.plenum]",
    "[exhaust.primary.step]",
    "[[exhaust.primary.step]]",
    "[head.intake.flow.flows]",
    "[parts]",
    "[[parts]]",
    "[parts.cam]",
    "[day]",
    "[x.y.z]",
    "[" + "a." * 800 + "b]",
    "[]",
    "[[]]",
    "[block",
    "[ block . bore ]",
    '["block"]',
    "[[cam.phasing]]",
    "[cam.phasing]",
    "[[exhaust.junction]]",
    "[source]",
    "[run]",
    "[limits]",
    "[walls]",
)
ENCODINGS = ("utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1", "utf-8-sig", "cp1252", "utf-7")


def _fields(lines: list[str]) -> list[int]:
    return [i for i, line in enumerate(lines) if _LINE.match(line)]


def _value(rng: random.Random) -> str:
    kind = rng.random()
    if kind < 0.35:
        number = (
            rng.choice(NUMBERS)
            if rng.random() < 0.3
            else f"{rng.choice([-1, 1, 1, 1]) * 10 ** rng.uniform(-6, 6):.4g}"
        )
        return f'"{number} {rng.choice(UNITS)}"'
    return rng.choice(NUMBERS) if kind < 0.5 else rng.choice(TEXTS) if kind < 0.72 else rng.choice(SHAPES)


def _on_field(change: Callable[[str, str, random.Random, list[str]], str]):
    def bend(lines: list[str], rng: random.Random) -> list[str]:
        fields = _fields(lines)
        if not fields:
            return lines
        i = rng.choice(fields)
        key, value = _LINE.match(lines[i]).groups()
        return [*lines[:i], *change(key, value, rng, lines).split("\n"), *lines[i + 1 :]]

    return bend


def _scaled(key: str, value: str, rng: random.Random, lines: list[str]) -> str:
    factor = rng.choice([0.0, -1.0, 10.0 ** rng.randint(-8, 8), *(rng.uniform(0.5, 2.0) for _ in range(5))])
    return f"{key} = " + re.sub(r"[-+]?\d+(\.\d+)?", lambda m: f"{float(m[0]) * factor:.6g}", value)


def _borrowed(key: str, value: str, rng: random.Random, lines: list[str]) -> str:
    return f"{key} = {_LINE.match(lines[rng.choice(_fields(lines))]).group(2)}"


def _misspelt(key: str, value: str, rng: random.Random, lines: list[str]) -> str:
    i = rng.randrange(len(key))
    new = rng.choice(
        [
            key[:i] + key[i + 1 :],
            key[:i] + rng.choice('aeé_.-" ') + key[i:],
            key.upper(),
            key + ".value",
            f'"{key}"',
            f"{key}.{key}",
            "class",
            "name",
            "from",
            "__proto__",
            "extra",
            "model_config",
            "value",
        ]
    )
    return f"{new} = {value}"


def _section(lines: list[str], rng: random.Random) -> list[str]:
    i = rng.randrange(len(lines) + 1)
    return [*lines[:i], rng.choice(SECTIONS), *lines[i:]]


def _section_gone(lines: list[str], rng: random.Random) -> list[str]:
    heads = [i for i, line in enumerate(lines) if line.startswith("[")]
    if not heads:
        return lines
    i = rng.choice(heads)
    return lines[:i] + lines[i + 1 :]


def _moved(lines: list[str], rng: random.Random) -> list[str]:
    if len(lines) < 2:
        return lines
    lines = list(lines)
    line = lines.pop(rng.randrange(len(lines)))
    lines.insert(rng.randrange(len(lines) + 1), line)
    return lines


def _block_copied(lines: list[str], rng: random.Random) -> list[str]:
    i = rng.randrange(len(lines))
    j = min(len(lines), i + rng.randint(1, 12))
    at = rng.randrange(len(lines) + 1)
    return lines[:at] + lines[i:j] * rng.choice([1, 1, 2, 40]) + lines[at:]


BENDS = (
    (6, _on_field(lambda k, v, r, _: f"{k} = {_value(r)}")),
    (12, _on_field(_scaled)),
    (3, _on_field(_borrowed)),
    (2, _on_field(_misspelt)),
    (2, _on_field(lambda *_: "# gone")),
    (1, _on_field(lambda k, v, r, _: f"{k} = {v}\n{k} = {v}")),
    (1, _on_field(lambda k, v, r, _: f"{k} {v}")),
    (1, _on_field(lambda k, v, r, _: f"{k} = {v[:-1]}")),
    (
        2,
        _on_field(
            lambda k, v, r, _: (
                f"{r.choice(['cam', 'head', 'intake', 'exhaust', 'fuel', 'day'])} = {r.choice(REFERENCES)}"
            )
        ),
    ),
    (2, _section),
    (1, _section_gone),
    (1, _moved),
    (1, _block_copied),
)


def bent_bytes(text: str, rng: random.Random) -> bytes:
    """A card bent in one to four ways, as bytes."""
    lines = text.split("\n")
    weights = [w for w, _ in BENDS]
    for _ in range(rng.choice([1, 1, 1, 2, 3, 5])):
        lines = rng.choices(BENDS, weights)[0][1](lines, rng)
    raw = "\n".join(lines).encode("utf-8", "surrogatepass")
    kind = rng.random()
    if kind < 0.10:
        return damaged(raw, rng)
    if kind < 0.14:
        return raw.decode("utf-8", "replace").encode(rng.choice(ENCODINGS), "replace")
    if kind < 0.18:
        return raw.replace(b"\n", rng.choice([b"\r\n", b"\r", b"\n\r", b"\x0b", b"\x85"]))
    return raw


def damaged(raw: bytes, rng: random.Random) -> bytes:
    """Bytes flipped, cut, put in or repeated."""
    raw = bytearray(raw)
    for _ in range(rng.randint(1, 6)):
        i = rng.randrange(len(raw) + 1)
        kind = rng.randrange(5)
        if kind == 0 and raw:
            raw[i % len(raw)] ^= 1 << rng.randrange(8)
        elif kind == 1:
            del raw[i : i + rng.randint(1, 40)]
        elif kind == 2:
            raw[i:i] = bytes(rng.randrange(256) for _ in range(rng.randint(1, 8)))
        elif kind == 3:
            raw[i:i] = raw[i : i + rng.randint(1, 60)] * rng.choice([1, 30])
        else:
            del raw[i:]
    return bytes(raw)

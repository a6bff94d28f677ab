"""The table of all checks: on the terminal, as markdown in README.md, as JSON; and the command that makes it."""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Sequence
from pathlib import Path

from validation.harness import ROOT, TIERS, Case, Outcome, cases, run_all

BEGIN, END = "<!-- table: begin -->", "<!-- table: end -->"


def number(value: float) -> str:
    """A value with six significant digits at most."""
    return f"{value:.6g}"


def summary(outcomes: Sequence[Outcome]) -> str:
    """One sentence: how many checks of how many cases passed."""
    checks = [c for o in outcomes for c in o.checks]
    good = sum(c.passed for c in checks)
    failed = sum(bool(o.error) for o in outcomes)
    text = f"{good} of {len(checks)} checks passed in {len(outcomes)} cases"
    return text + (f"; {failed} {'case' if failed == 1 else 'cases'} did not run" if failed else "")


def markdown(outcomes: Sequence[Outcome]) -> str:
    """The outcomes as markdown: a sentence, then one table per tier."""
    lines = [f"{summary(outcomes)}.", ""]
    for tier, title in TIERS.items():
        mine = [o for o in outcomes if o.case.tier == tier]
        if not mine:
            continue
        lines += [f"### {title}", "", "| case | check | source | expected | got | tolerance | verdict |",
                  "|---|---|---|---|---|---|---|"]
        for outcome in mine:
            lines += _rows(outcome)
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _rows(outcome: Outcome) -> list[str]:
    link = f"[{outcome.case.name}]({outcome.case.key}/)"
    if outcome.error:
        return [f"| {link} | did not run | | | {_cell(outcome.error)} | | **fail** |"]
    rows = []
    for c in outcome.checks:
        unit = f" {c.unit}" if c.unit else ""
        name = c.name + (f" ({c.note})" if c.note else "")
        cells = (link, name, c.source, number(c.expected) + unit, number(c.got) + unit, c.band)
        verdict = "pass" if c.passed else "**fail**"
        rows.append("| " + " | ".join(_cell(x) for x in cells) + f" | {verdict} |")
    return rows


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


def write_readme(outcomes: Sequence[Outcome], path: Path = ROOT / "README.md") -> None:
    """Put the table between the markers of a hand-written page. Raises ValueError when the markers are missing."""
    text = path.read_text(encoding="utf-8")
    if text.count(BEGIN) != 1 or text.count(END) != 1 or text.index(END) < text.index(BEGIN):
        msg = f"{path.name} needs the markers {BEGIN} and {END} once each, in this order"
        raise ValueError(msg)
    head, tail = text.split(BEGIN)[0], text.split(END)[1]
    path.write_text(f"{head}{BEGIN}\n\n{markdown(outcomes)}\n{END}{tail}", encoding="utf-8")


def show(outcomes: Sequence[Outcome]) -> None:
    """Print one table per tier, what failed, and the summary."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    for tier, title in TIERS.items():
        mine = [o for o in outcomes if o.case.tier == tier]
        if not mine:
            continue
        table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD)
        for name in ("check", "expected", "got", "tolerance", ""):
            table.add_column(name, justify="left" if name in ("check", "") else "right", overflow="fold")
        for outcome in mine:
            table.add_row(Text(outcome.case.name, style="bold"), "", "", "", f"{outcome.seconds:.1f} s")
            for c in outcome.checks:
                verdict = Text("pass") if c.passed else Text("FAIL", style="bold")
                got = f"{number(c.got)} {c.unit}".rstrip()
                table.add_row(Text(f"  {c.name}"), number(c.expected), got, c.band, verdict)
            if outcome.error:
                table.add_row(Text(f"  did not run: {outcome.error}"), "", "", "", Text("FAIL", style="bold"))
        console.print(table)
    console.print(summary(outcomes) + ".")


def as_json(outcomes: Sequence[Outcome]) -> str:
    """The outcomes as JSON: a list of cases, each with its checks; values that are not finite are null."""
    def plain(value: float) -> float | None:
        return value if math.isfinite(value) else None

    return json.dumps({
        "passed": all(o.passed for o in outcomes),
        "cases": [{
            "case": o.case.key, "passed": o.passed, "error": o.error or None, "seconds": round(o.seconds, 3),
            "checks": [{"name": c.name, "source": c.source, "expected": plain(c.expected), "got": plain(c.got),
                        "tolerance": c.tolerance, "kind": c.kind, "unit": c.unit, "note": c.note,
                        "passed": c.passed} for c in o.checks],
        } for o in outcomes],
    }, indent=2, ensure_ascii=False)


def validate(only: Sequence[str] = (), *, json_out: bool = False, write: bool = True) -> int:
    """Run the cases, print the table (or JSON), write it into README.md after a full run.

    Returns the exit code: 0 when every check passed, 1 otherwise, 2 when ``only`` names no case.
    """
    try:
        chosen = cases(only=only)
    except ValueError as error:
        print(f"pullcast: {error}", file=sys.stderr)
        return 2
    outcomes = run_all(chosen, on_case=_announce if sys.stderr.isatty() else None)
    if json_out:
        print(as_json(outcomes))
    else:
        show(outcomes)
    if write and not only and outcomes:
        write_readme(outcomes)
        print(f"The table was written to {Path(ROOT.name) / 'README.md'}.", file=sys.stderr)
    return 0 if outcomes and all(o.passed for o in outcomes) else 1


def _announce(case: Case) -> None:
    print(f"running {case.key} ...", file=sys.stderr)


def main(argv: Sequence[str] | None = None) -> int:
    """The command line of ``validation/run``."""
    parser = argparse.ArgumentParser(prog="validation/run", description="Run every check against outside values.")
    parser.add_argument("only", nargs="*", help="run only cases whose tier/name holds one of these texts")
    parser.add_argument("--json", action="store_true", help="print JSON instead of tables")
    parser.add_argument("--keep-page", action="store_true", help="leave the table in validation/README.md as it is")
    args = parser.parse_args(argv)
    return validate(args.only, json_out=args.json, write=not args.keep_page)

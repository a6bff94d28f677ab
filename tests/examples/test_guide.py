"""The guide: its commands print what it shows, its links lead somewhere, the modules it names exist."""

import re
import runpy
from pathlib import Path

import pytest

from pullcast.answers.performance import reference_density
from pullcast.card import read_engine_text
from pullcast.network.friction import chen_flynn
from pullcast.show.lessons import all_lessons

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "examples" / "guide"
PAGES = sorted(GUIDE.glob("*.md"))
refresh = runpy.run_path(str(GUIDE / "refresh.py"))


def shown_as_printed(name):
    page = GUIDE / name
    assert refresh["differences"](page.read_text(encoding="utf-8"), refresh["refreshed"](page)) == [], (
        "run python examples/guide/refresh.py and read what changed")


def test_user_guide_prints_what_it_shows():
    """Walks the guide in an empty folder: new, check, a wrong card, predict. Numbers may move by 3 %."""
    shown_as_printed("user_guide.md")


@pytest.mark.long
def test_cluster_page_prints_what_it_shows():
    """Starts a scheduler and two workers by hand and ranks there and here."""
    shown_as_printed("cluster.md")


def test_differences_are_seen():
    differ = refresh["differences"]
    assert differ("torque 100.0 N m\n", "torque 101.5 N m\n") == []
    assert differ("torque 100.0 N m\n", "torque 104.0 N m\n") == ["- torque 100.0 N m\n+ torque 104.0 N m"]
    assert differ("closes to 3e-15\n", "closes to 5e-16\n") == []
    assert len(differ("closes to 3e-15\n", "closes to 5e-3\n")) == 1
    assert len(differ("a word\n", "another word\n")) == 1
    assert differ("one\n", "one\ntwo\n") == ["1 lines have become 2"]


def test_a_page_is_run(tmp_path):
    page = tmp_path / "p.md"
    page.write_text("<!-- file a.txt -->\n```toml\nx = 1\n```\n\n"
                    "```console\n$ cat a.txt | wc -l\nold\n$ cat no\n```\n", encoding="utf-8")
    text = refresh["refreshed"](page)
    assert "$ cat a.txt | wc -l\n1\n$ cat no\ncat: no" in text
    assert "old" not in text


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_links_lead_somewhere(page):
    targets = [t for t in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")) if "://" not in t]
    assert [t for t in targets if not (page.parent / t).exists()] == []


def test_theory_names_modules_that_exist():
    named = set(re.findall(r"`([a-z_]+/[a-z_]*(?:\.py)?|[a-z_]+\.py)`", (GUIDE / "theory.md").read_text()))
    assert len(named) > 30
    assert [n for n in named if n != "sim/pullcast/" and not (ROOT / "sim" / "pullcast" / n).exists()] == []


def test_theory_gives_the_default_friction():
    """The page's formula, worked at 80 bar and 15 m/s, is what the program uses."""
    text = (GUIDE / "theory.md").read_text(encoding="utf-8")
    a, b, c, d = map(float, re.search(r"\$([\d.]+)\+([\d.]+)\\,p_\{\\max\}\+([\d.]+)\\,S_p\+([\d.]+)\\,S_p\^2\$",
                                      text).groups())
    assert a + b * 80 + c * 15 + d * 225 == pytest.approx(chen_flynn(80e5, 15.0) / 1e5)


def test_guide_engine_is_as_said():
    """Fifteen values make a card without contradiction or doubt; the guide's air is that of its card."""
    text = (GUIDE / "user_guide.md").read_text(encoding="utf-8")
    card = re.search(r"<!-- file mine.toml -->\n```toml\n(.*?)```", text, re.DOTALL)[1]
    engine = read_engine_text(card)
    assert [f for f in engine.findings if f.level != "note"] == []
    given = [line for line in card.splitlines() if "=" in line and not line.startswith(("name", "class", "text"))]
    assert len(given) == 15
    assert f"{reference_density(engine):.4f} kg/m3" in text


def test_class_and_caution_pages_are_linked():
    text = (GUIDE / "user_guide.md").read_text(encoding="utf-8")
    for name in ("card_keys.md", "trust.md", "cautions.md", "theory.md", "cluster.md", "lessons.md"):
        assert f"({name})" in text


def test_lessons_page_lists_every_lesson():
    rows = re.findall(r"^\| `lesson_(\w+)\.py` \| (\d+) \|", (GUIDE / "lessons.md").read_text(encoding="utf-8"), re.M)
    assert rows == [(lesson.key, str(lesson.minutes)) for lesson in all_lessons()]

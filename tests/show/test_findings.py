import io
import json
from types import SimpleNamespace as Bag

from rich.console import Console

from pullcast.answers.check import Review
from pullcast.card.engine import Assumed, Finding
from pullcast.show.findings import review_document, review_view


def review(findings=()):
    engine = Bag(name="Kestrel", engine_class="twin", source="invented")
    derived = (Bag(name="displacement", value=5.7e-3, unit_quantity="displacement", note="8 cylinders"),
               Bag(name="compression ratio", value=10.25, unit_quantity="", note=""),
               Bag(name="intake valve, seat", value="12 BTDC to 52 ABDC", unit_quantity="", note=""))
    assumed = (Assumed("walls.piston", 540.0, 500.0, 580.0, "K", "class default"),
               Assumed("intake.runner.length", 0.254, 0.2286, 0.2794, "m", "given"))
    return Review(engine, derived, assumed, tuple(findings))


def printed(view):
    console = Console(file=io.StringIO(), width=90, highlight=False)
    console.print(view)
    return console.file.getvalue()


FINDINGS = (Finding("note", "cam", "a remark"),
            Finding("contradiction", "cam.advance", "separation and centrelines disagree", "Look at the cam card."))


def test_review_in_us_units():
    text = printed(review_view(review(), "us"))
    for part in ("347.8 in3", "10.25", "12 BTDC to 52 ABDC", "10 in", "9 in", "11 in", "512 °F"):
        assert part in text, part
    assert "Nothing on the card contradicts itself" in text


def test_contradictions_come_first_with_their_remedy():
    text = printed(review_view(review(FINDINGS)))
    assert text.index("contradiction: cam.advance") < text.index("Look at the cam card.") < text.index("note: cam:")
    told = "Kestrel: 1 contradiction, 0 doubts; 3 numbers derived, 2 values assumed"
    assert repr(review(FINDINGS)).startswith(told)


def test_document():
    doc = json.loads(json.dumps(review_document(review(FINDINGS), "us"), allow_nan=False))
    assert doc["derived"][0]["unit"] == "in3"
    assert doc["derived"][2] == {"name": "intake valve, seat", "value": "12 BTDC to 52 ABDC", "unit": "", "note": ""}
    assert [round(doc["assumed"][1][k], 9) for k in ("value", "low", "high")] == [10, 9, 11]
    assert doc["findings"][1]["level"] == "contradiction"

"""Reports: what stands in them and in which order, that they are self-contained, safe, whole and always the same."""

import io
import json
import re
from html.parser import HTMLParser

import numpy as np
import pypdf
import pytest

import model_days
from pullcast.answers.compare import compare
from pullcast.answers.judge import judge
from pullcast.answers.lock import lock
from pullcast.answers.spread import Spread
from pullcast.errors import InputError, StoreError
from pullcast.show.judge_tables import judgement_document
from pullcast.show.report import report
from pullcast.show.report.blocks import Bullets, Grid, Para, lines
from pullcast.show.report.compose import kernels_sha256
from pullcast.show.report.document import Document
from pullcast.show.report.saved import read_saved

HOSTILE = '<script>alert("x")</script> & <img src=x onerror=alert(1)>'
RPM = np.arange(2200.0, 5601.0, 200.0)
VOID = {"meta", "br"}


def torque(gain=0.0):
    return (1 + gain) * (44.0 - 4.0 * ((RPM - 3900.0) / 1500.0) ** 2)


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    return model_days.write_day(tmp_path_factory.mktemp("day"), {"A": (RPM, torque()), "B": (RPM, torque(0.04))},
                                "AAABBBAAA", noise=0.002, title=HOSTILE.replace(chr(34), chr(92) + chr(34)))


@pytest.fixture(scope="module")
def judged(day):
    return judge(day)


@pytest.fixture(scope="module")
def compared(day):
    spread = Spread(("walls.factor",), RPM, np.full((RPM.size, 1), 0.02))
    return compare(day, {k: spread.attach(model_days.curve(RPM, torque(g))) for k, g in (("A", 0.01), ("B", 0.03))})


class Page(HTMLParser):
    """Open tags, what could run or load something, names, headings."""

    def __init__(self, text):
        super().__init__()
        self.open, self.bad, self.ids, self.used, self.headings = [], [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        if tag not in VOID:
            self.open.append(tag)
        self.bad += [tag] * (tag in ("script", "iframe", "object", "embed", "link", "base", "form"))
        for key, value in attrs:
            self.bad += [f"{tag} {key}={value}"] if key.startswith("on") else []
            if key in ("src", "href", "xlink:href"):
                if value.startswith("#"):
                    self.used.append(value[1:])
                elif not value.startswith("data:image/png;"):
                    self.bad.append(f"{tag} {key}={value[:60]}")
            if key == "id":
                self.ids.append(value)
            self.used += re.findall(r"url\(#([^)]+)\)", value or "")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] == "h2":
            self.headings.append(data)


def pdf_text(data):
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages)


def test_verdict_first_then_the_chapters_in_order(sample_curve, judged, compared):
    made = report(sample_curve(), judged, compared)
    page = Page(made.html())
    assert page.headings == ["Curves", "Answer in numbers", "Inputs, and what was assumed", "Pulls and exclusions",
                             "Method and validity", "Cautions", "Versions and hashes", "Cards, as read"]
    assert made.verdicts[0] == f"{judged.differences[0]!r}."
    low, high = judged.differences[0].effect.low, judged.differences[0].effect.high
    assert f"(95 % interval {low:+.2f} to {high:+.2f} %)" in made.verdicts[0]
    text = made.html()
    assert text.index('class="verdict"') < text.index("<h2>")
    for must in ("carbon monoxide", "Piston-to-valve", kernels_sha256(), "validation/README.md", "ab" * 32,
                 "expect the level within about 10 %"):
        assert must in text, must


def test_the_page_holds_everything_and_runs_nothing(sample_curve, judged):
    page = Page(report(sample_curve(traces=True), judged, notes=[HOSTILE], title=HOSTILE).html())
    assert page.open == []
    assert page.bad == []
    assert len(page.ids) == len(set(page.ids))
    assert set(page.used) <= set(page.ids)


def test_what_people_write_is_escaped_on_the_page_and_printed_as_text(judged):
    made = report(judged, title=HOSTILE, question=HOSTILE, notes=[HOSTILE])
    text = made.html()
    assert "<script" not in text
    assert "<img" not in text
    assert text.count("&lt;script&gt;") >= 3
    assert "default-src 'none'" in text
    flat = re.sub(r"\s+", " ", pdf_text(made.pdf()))
    assert '<script>alert("x")</script> & <img' in flat


def test_the_same_input_gives_the_same_bytes(judged):
    first, second = (report(judged) for _ in range(2))
    assert first.html() == second.html()
    data = first.pdf()
    assert data == second.pdf()
    assert set(pypdf.PdfReader(io.BytesIO(data)).metadata) == {"/Title", "/Producer"}  # no time of writing


@pytest.mark.parametrize(("paper", "size", "css"), [("a4", (595, 842), "size: A4"), ("letter", (612, 792),
                                                                                     "size: letter")])
def test_it_prints_on_both_papers_with_its_fonts(sample_curve, paper, size, css):
    made = report(sample_curve(failed=(1,)))
    assert css in made.html(paper)
    reader = pypdf.PdfReader(io.BytesIO(made.pdf(paper)))
    assert all((round(p.mediabox.width), round(p.mediabox.height)) == size for p in reader.pages)
    assert fonts_outside(reader) == set()
    flat = re.sub(r"\s+", " ", "\n".join(p.extract_text() for p in reader.pages))
    for must in ("Cautions", f"page 1 of {len(reader.pages)}", "1 of 5 points did not converge", "SHA-256"):
        assert must in flat, must


def fonts_outside(reader):
    """Names of fonts that are used but not in the file, pictures' included."""
    outside = set()

    def walk(resources):
        for font in (resources.get("/Font") or {}).values():
            font = font.get_object()
            if font["/Subtype"] == "/Type3":
                continue  # drawn in the file itself
            inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
            held = inner.get("/FontDescriptor")
            if held is None or not {"/FontFile", "/FontFile2", "/FontFile3"} & set(held.get_object()):
                outside.add(str(font["/BaseFont"]))
        for item in (resources.get("/XObject") or {}).values():
            item = item.get_object()
            if item.get("/Subtype") == "/Form" and "/Resources" in item:
                walk(item["/Resources"].get_object())

    for page in reader.pages:
        walk(page["/Resources"].get_object())
    return outside


def test_a_lock_tells_its_seal_and_its_curves(sample_curve, tmp_path):
    made = lock(tmp_path / "spring.lock.json", [sample_curve()], note="before <the> day")
    text = report(made).html()
    assert made.seal in text
    assert "before &lt;the&gt; day" in text
    assert "The forecast is as it was sealed" in text


def test_what_was_assumed_stands_with_its_range(sample_curve):
    rows = [{"key": "walls.factor", "value": 1.0, "low": 0.7, "high": 1.3, "unit": "", "why": "class default"}]
    text = report(sample_curve(assumed=json.dumps(rows))).html()
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", text[text.index("assumed or uncertain, with ranges"):])
    assert cells[:4] == ["walls.factor", "1", "0.7", "1.3"]


def test_a_saved_document_is_told(judged, tmp_path):
    file = tmp_path / "day.json"
    file.write_text(json.dumps(judgement_document(judged)), encoding="utf-8")
    made = report(read_saved(file))
    assert made.verdicts[0].startswith(f"{judged.differences[0].part} against A, ")
    page = Page(made.html())
    assert page.bad == []
    assert page.headings[:2] == ["Curves", "Pulls and exclusions"]
    assert "<h3>pulls</h3>" in made.html()


@pytest.mark.parametrize(("text", "message"), [
    ("no json", "cannot be read as a saved document"), ('{"a": 1}', "is JSON but not what a verb of pullcast saves"),
    ("[" * 100_000, "cannot be read as a saved document")])
def test_other_files_are_refused(tmp_path, text, message):
    file = tmp_path / "x.json"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(StoreError, match=message):
        read_saved(file)
    with pytest.raises(InputError, match="no such file"):
        read_saved(tmp_path / "none.json")


def test_refusals(sample_curve, tmp_path):
    with pytest.raises(InputError, match="nothing to report"):
        report()
    with pytest.raises(InputError, match="a dict cannot be reported; known are Curve"):
        report({})
    made = report(sample_curve())
    with pytest.raises(InputError, match=r"saved as \.html or \.pdf, not \.docx"):
        made.save(tmp_path / "a.docx")
    with pytest.raises(InputError, match="paper 'a5' is not known: use a4 or letter"):
        made.html("a5")
    with pytest.raises(StoreError, match="cannot be written"):
        made.save(tmp_path / "none" / "a.html")
    assert list(tmp_path.iterdir()) == []


def test_a_page_that_fails_leaves_no_file(sample_curve, tmp_path, monkeypatch):
    made = report(sample_curve())
    monkeypatch.setattr(Document, "html", lambda *_: (_ for _ in ()).throw(MemoryError))
    with pytest.raises(MemoryError):
        made.save(tmp_path / "a.html")
    assert list(tmp_path.iterdir()) == []


def test_wide_and_long_tables_and_odd_words_are_set():
    wide = Grid(tuple(f"a rather long head {k}" for k in range(24)), (("123456.789",) * 24,) * 80, (True,) * 24)
    odd = Grid(("word",), (("x" * 400,), ("",)))
    made = Document("t", (), ("v",), (("Long", (wide, odd, Para("y" * 900), *lines(["a", " ", "b"]))),), "f")
    reader = pypdf.PdfReader(io.BytesIO(made.pdf("letter")))
    assert len(reader.pages) >= 2
    assert reader.pages[1].extract_text().count("head") >= 10  # heads stand on every page
    assert lines(["", " "]) == ()
    assert lines(["a"]) == (Bullets(("a",)),)

import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure

from pullcast.show.letters import FACES, legible, shapes
from pullcast.show.look import STYLE, save_figure
from pullcast.show.report.blocks import Bullets, Grid, Listing, Para, Picture
from pullcast.show.report.document import Document
from pullcast.show.report.lettered import lettered

NAMES = {"λ Ж é ü ß °": "λ Ж é ü ß °", "Ｖ８": "V8", "鷹雄 x 🔥": "[U+9DF9 96C4] x [U+1F525]", "مح": "[U+0645 062D]",
         "שלום a": "[U+05E9 05DC 05D5 05DD] a", "a\u200db\ufe0f": "ab", "a\x07b": "a[U+0007]b", "ﬁ": "ﬁ"}


@pytest.mark.parametrize("text", NAMES)
def test_what_has_no_shape_is_written_as_its_number(text):
    assert legible(text) == NAMES[text]


@given(st.text(), st.sampled_from(list(FACES)))
def test_every_letter_of_the_outcome_has_a_shape(text, face):
    told = legible(text, face)
    assert {ord(c) for c in told if c not in "\n\t"} <= shapes(face)
    assert legible(told, face) == told


def test_no_picture_is_drawn_with_a_box_and_no_name_is_a_formula(tmp_path):
    import matplotlib as mpl

    with mpl.rc_context(STYLE):
        figure = Figure()
        ax = figure.subplots()
        ax.plot([1, 2], label="鷹 $x_{")
        ax.set_title("🔥 $x$ and $y")
        ax.legend()
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # matplotlib warns of each missing shape
        for kind in ("png", "svg", "pdf"):
            save_figure(figure, tmp_path / f"a.{kind}")
    assert "[U+1F525] $x$ and $y" in (tmp_path / "a.svg").read_text()


def test_a_print_says_what_it_changed_and_a_plain_one_nothing():
    def made(name):
        blocks = (Para(name, True), Bullets((name,)), Listing(name, f"{name}\n\tx"), Picture(Figure, name),
                  Grid((name,), ((name,),), title=name, bold=(0,)))
        return Document(name, (name,), (name,), (("One", blocks),), name)

    plain, changed = made("Kestrel λ"), lettered(made("鷹"))
    assert lettered(plain) is plain
    assert "鷹" not in repr((changed.title, changed.questions, changed.verdicts, changed.chapters, changed.foot))
    assert changed.chapters[-1][0] == "Letters"
    assert "by their numbers" in changed.chapters[-1][1][0].text


def test_a_report_of_an_engine_with_any_name_is_printed(tmp_path):
    pypdf = pytest.importorskip("pypdf")
    document = Document("鷹雄 V8 & <b>", ("?",), ("Kestrel 🔥: fine",), (("One", (Para("שלום"),)),), "foot 鷹")
    path = document.save(tmp_path / "a.pdf")
    text = "".join(page.extract_text() for page in pypdf.PdfReader(path).pages)
    for told in ("[U+9DF9 96C4] V8 & <b>", "Kestrel [U+1F525]: fine", "[U+05E9", "foot [U+9DF9]", "by their numbers"):
        assert told in text

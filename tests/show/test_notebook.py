"""Results render themselves in a notebook: escaped, light, and with the numbers of their text."""

from html.parser import HTMLParser

import pytest

from pullcast.results.html import answer_html

VOID = {"br"}


class Checked(HTMLParser):
    """Tags that are open, and attributes that could run or load something."""

    def __init__(self, text):
        super().__init__()
        self.open, self.bad, self.cells = [], [], 0
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.cells += tag == "td"
        if tag not in VOID:
            self.open.append(tag)
        self.bad += [k for k, _ in attrs if k.startswith("on") or k in ("src", "href")] + [tag] * (tag == "script")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


@pytest.mark.parametrize("hostile", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "a & b < c"])
def test_every_text_is_escaped(hostile):
    text = answer_html([hostile, hostile], [hostile], [[hostile], ["+1.2"]], [hostile])
    checked = Checked(text)
    assert checked.open == []
    assert checked.bad == []
    assert checked.cells == 2
    assert hostile not in text


def test_numbers_stand_to_the_right_and_words_to_the_left():
    text = answer_html(["a"], ["x"], [["+1.2"], ["-0.5 to +0.3"], ["–"], ["1 of 3"], [">99"]])
    sides = [part.split('"')[0] for part in text.split("<td ")[1:] for part in [part.split("text-align:")[1][:5]]]
    assert sides == ["right", "right", "right", "left;", "right"]


def test_a_curve_shows_its_sentence_and_a_row_a_speed(sample_curve):
    curve = sample_curve(engine="<b>V8</b>")
    text = curve._repr_html_()
    checked = Checked(text)
    assert checked.open == []
    assert checked.cells == 6 * curve.speeds.size
    assert "&lt;b&gt;V8" in text
    assert len(text) < 5000

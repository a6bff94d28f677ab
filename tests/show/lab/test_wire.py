import pytest

pytest.importorskip("panel", reason="the live page's libraries are not installed")

from pullcast.show.lab.wire import Message, checked


@pytest.mark.parametrize("data", [
    None, 3, "undo", [], {}, {"do": 3}, {"do": "eval", "text": "1"}, {"do": "knob", "key": ["a"], "text": "1"},
    {"do": "knob", "key": "k" * 400, "text": "1"}, {"do": "knob", "key": "spark", "text": "1" * 400},
    {"do": "text", "text": "x" * 1_000_001}, {"do": "rpm", "text": {"a": 1}}, {"do": "__class__"}])
def test_what_the_page_does_not_say_is_not_heard(data):
    assert checked(data) is None


def test_what_the_page_says_is_heard_and_nothing_more_of_it():
    assert checked({"do": "knob", "key": "spark", "text": "30", "more": 1}) == Message("knob", "spark", "30")
    assert checked({"do": "undo", "key": "x", "text": "y"}) == Message("undo")
    assert checked({"do": "rpm", "key": "x", "text": "3000"}) == Message("rpm", "", "3000")
    assert checked({"do": "open", "key": "../../a.toml", "text": "x"}).text == "x"

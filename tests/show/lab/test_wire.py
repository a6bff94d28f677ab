import json

import pytest

pytest.importorskip("bokeh", reason="the live page's libraries are not installed")

from pullcast.show.lab.wire import Message, Wire, checked


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


def test_only_well_formed_messages_reach_the_session():
    heard = []
    wire = Wire(heard.append)
    for said in ("", "{", "3", "[3, null]", "[" * 100_000, json.dumps([{"do": "eval"}])):
        wire.carrier.said = said
    assert heard == []
    wire.carrier.said = json.dumps([{"do": "undo", "count": 1}, {"do": "knob", "key": "spark", "text": "3"}])
    assert heard == [Message("undo"), Message("knob", "spark", "3")]


def test_a_value_is_sent_once_when_it_changes():
    wire, sent = Wire(lambda message: None), []
    wire.carrier.on_change("words", lambda name, old, new: sent.append(json.loads(new)))
    wire.words = {"name": "a"}
    wire.words = {"name": "a"}
    wire.words = wire.words | {"name": "b"}
    assert sent == [{"name": "a"}, {"name": "b"}]
    assert wire.words["name"] == "b"


def test_two_remarks_alike_are_two():
    wire, told = Wire(lambda message: None), []
    wire.carrier.on_change("told", lambda name, old, new: told.append(json.loads(new)["told"]))
    wire.tell("No report.")
    wire.tell("No report.")
    assert told == ["No report.", "No report."]

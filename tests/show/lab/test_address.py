import base64
import zlib
from urllib.parse import urlencode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.show.lab.address import LONGEST_QUERY, View, decode, encode
from pullcast.show.lab.bench import Bench
from pullcast.show.lab.knobs import KNOBS

SHOWS = ("torque", "power")
WORDS = st.text(min_size=1, max_size=30)


@given(card=WORDS, parts=st.dictionaries(st.sampled_from(["cam", "intake", "day"]), WORDS),
       keys=st.dictionaries(WORDS, WORDS, max_size=5), knobs=st.dictionaries(st.sampled_from(list(KNOBS)), WORDS),
       rpm=st.one_of(st.none(), st.integers(100, 20000)), shows=st.sampled_from(SHOWS))
def test_a_link_leads_back_to_the_same_bench(card, parts, keys, knobs, rpm, shows):
    bench = Bench(card, "", tuple(parts.items()), tuple(keys.items()), tuple(knobs.items()))
    again, view, notes = decode(encode(bench, View(rpm, shows)), SHOWS)
    assert (again, view, notes) == (bench, View(rpm, shows), [])


@given(st.text(max_size=200))
def test_no_query_breaks_it(query):
    bench, view, _ = decode(query, SHOWS)
    assert view.shows in SHOWS
    assert isinstance(bench, Bench)


def test_a_typed_card_travels_in_the_link():
    bench = Bench(text='name = "ü"\n' * 40)
    assert decode(encode(bench, View()), SHOWS)[0] == bench


def test_a_card_too_long_for_a_link_gives_none():
    import random

    text = "".join(random.Random(1).choices("abcdefghij0123456789", k=60_000))
    assert encode(Bench(text=text), View()) == ""


def test_what_means_nothing_is_named_and_left_out():
    bench, view, notes = decode("card=a&nonsense=1&rpm=fast&shows=colour", SHOWS)
    assert bench == Bench("a")
    assert view == View(None, "torque")
    assert notes == ["the link's speed 'fast' is no speed", "the link's 'nonsense' means nothing here"]


@pytest.mark.parametrize("rpm", ["nan", "inf", "-5", "1e9"])
def test_a_speed_no_engine_has_is_left_out(rpm):
    assert decode(f"card=a&rpm={rpm}", SHOWS)[1].rpm is None


def test_a_card_that_unpacks_to_more_than_a_card_may_be_is_refused():
    bomb = base64.urlsafe_b64encode(zlib.compress(b"a" * 50_000_000, 9)).decode()
    bench, _, notes = decode([("text", bomb)], SHOWS)
    assert bench.text == ""
    assert notes == ["the card in the link is cut off or too long"]


@pytest.mark.parametrize("packed", ["!!!", "AAAA", "eJw"])
def test_a_broken_card_in_a_link_is_told(packed):
    bench, _, notes = decode([("text", packed)], SHOWS)
    assert bench.text == ""
    assert "the card in the link" in notes[0]


def test_a_link_with_too_much_is_cut():
    many = urlencode([(f"set.k{i}", "1") for i in range(500)])
    bench, _, notes = decode(many, SHOWS)
    assert len(bench.keys) <= 60
    assert "says too much" in notes[0]
    assert len(decode("set.a=" + "x" * LONGEST_QUERY, SHOWS)[0].keys) == 0

"""Locks: sealed whole, read back to the last digit, every change found and named."""

import json
import os
import runpy
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pullcast.answers.lock import lock, read_lock, verify
from pullcast.answers.seal import canonical, digests_of, seal_of
from pullcast.errors import InputError, StoreError

SAMPLE = runpy.run_path(str(Path(__file__).parents[1] / "results" / "sample.py"))
curve_of = SAMPLE["sample_curve"]
RANKING = {"order": ["warm cam", "as it stands"], "chance": [0.84, 0.16]}


@pytest.fixture
def sealed(tmp_path):
    curves = {"as it stands": curve_of(), "warm cam": curve_of(sha256="cd" * 32)}
    return lock(tmp_path / "day.lock.json", curves, ranking=RANKING, texts={"list.toml": "goal = 1  # °\n"},
                note="before the day")


def document(path):
    return json.loads(path.read_text())


def rewrite(path, made):
    path.chmod(0o644)
    path.write_text(json.dumps(made))


def test_a_lock_is_as_sealed_and_gives_everything_back(sealed):
    verdict = verify(sealed.path)
    assert verdict.unchanged
    assert verdict.notes == ()
    assert verdict.seal == sealed.seal
    again = read_lock(sealed.path)
    assert again.names == ("as it stands", "warm cam")
    assert again.ranking == RANKING
    assert again.parts["text/0"] == "goal = 1  # °\n"
    assert again.head["note"] == "before the day"
    assert repr(again).startswith("Lock of 2 curves and a ranking, sealed 20")
    for name, changes in (("as it stands", {}), ("warm cam", {"sha256": "cd" * 32})):
        ours, theirs = again.curve(name).dataset, curve_of(**changes).dataset
        assert set(ours) == set(theirs)
        for variable in theirs:
            assert np.array_equal(ours[variable].values, theirs[variable].values), variable
        assert ours.attrs == theirs.attrs


def test_a_corrected_curve_with_a_failed_point_keeps_both(tmp_path):
    curve = curve_of(failed=(1,), traces=True).corrected(1.02, "std", "formula")
    lock(tmp_path / "a.lock.json", [curve])
    again = read_lock(tmp_path / "a.lock.json").curve("Kestrel test four")
    assert again.basis == "std"
    assert again.failures == curve.failures
    assert np.array_equal(again.dataset["torque"].values, curve.dataset["torque"].values, equal_nan=True)
    assert "cylinder_pressure" not in again.dataset


def test_curves_of_one_engine_get_names(tmp_path):
    assert lock(tmp_path / "a.lock.json", [curve_of(), curve_of(), curve_of()]).names == (
        "Kestrel test four", "Kestrel test four (2)", "Kestrel test four (3)")


def test_layout_and_order_of_the_file_do_not_matter(sealed):
    made = document(sealed.path)
    made["parts"] = dict(reversed(made["parts"].items()))
    rewrite(sealed.path, made)
    assert verify(sealed.path).unchanged


def change(made, label, value):
    made["parts"][label] = value


@pytest.mark.parametrize(("edit", "said"), [
    (lambda d: d["parts"]["curve/1/torque"].__setitem__(2, 401.5), "the torque of curve 'warm cam'"),
    (lambda d: d["parts"]["curve/0/volumetric_efficiency"].pop(), "the volumetric efficiency of curve 'as it"),
    (lambda d: change(d, "curve/0/card", "# another"), "the card of curve 'as it stands'"),
    (lambda d: d["parts"]["curve/0/origin"].__setitem__("version", "9"), "the origin of curve 'as it stands'"),
    (lambda d: d["parts"]["ranking"]["order"].reverse(), "the ranking"),
    (lambda d: change(d, "text/0", "goal = 2"), "the text 'list.toml'"),
    (lambda d: d["parts"]["head"].__setitem__("sealed_utc", "2020-01-01T00:00:00+00:00"), "the head (time, version"),
    (lambda d: d["parts"].pop("ranking"), "the ranking was taken out"),
    (lambda d: change(d, "curve/0/spirit", [1]), "the spirit of curve 'as it stands' was added"),
    (lambda d: d.__setitem__("seal", "0" * 64), "the seal does not fit the parts"),
    (lambda d: d.__setitem__("remark", "x"), "'remark' is there, which no lock has"),
])
def test_every_change_is_found_and_named(sealed, edit, said):
    made = document(sealed.path)
    edit(made)
    rewrite(sealed.path, made)
    verdict = verify(sealed.path)
    assert len(verdict.changed) == 1
    assert verdict.changed[0].startswith(said)
    assert "was changed after it was sealed" in repr(verdict)
    with pytest.raises(StoreError, match=r"was changed after it was sealed: .* A changed forecast is not scored\."):
        read_lock(sealed.path)


def test_a_part_changed_with_its_digest_breaks_the_seal(sealed):
    made = document(sealed.path)
    made["parts"]["curve/0/torque"][0] = 999.0
    made["sha256"] = digests_of(made["parts"])
    rewrite(sealed.path, made)
    assert verify(sealed.path).changed[0].startswith("the seal does not fit the parts")


def test_a_lock_made_anew_is_told_by_the_noted_seal(sealed):
    made = document(sealed.path)
    made["parts"]["curve/0/torque"][0] = 999.0
    made["sha256"] = digests_of(made["parts"])
    made["seal"] = seal_of(1, made["sha256"])
    rewrite(sealed.path, made)
    assert verify(sealed.path).unchanged
    assert "this is another lock" in verify(sealed.path, sealed.seal).changed[0]
    assert "this is another lock" in verify(sealed.path, sealed.seal[:8].upper()).changed[0]
    assert verify(sealed.path, f" {made['seal'][:4]} {made['seal'][4:9]} ").unchanged


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_character_of_the_parts_changed_is_found(sealed, data):
    text = sealed.path.read_text()
    start = text.index('"parts"')
    at = data.draw(st.integers(start, len(text) - 1))
    letter = data.draw(st.sampled_from('0123456789abcxyz"[]{},:. -'))
    copy = sealed.path.with_name("copy.lock.json")
    copy.write_text(text[:at] + letter + text[at + 1:])
    try:
        changed = not verify(copy, sealed.seal).unchanged
    except StoreError:
        changed = True
    same = json.loads(text)
    try:
        harmless = canonical(json.loads(copy.read_text())) == canonical(same)
    except ValueError:
        harmless = False
    assert changed != harmless


def test_a_key_given_twice_is_found(sealed):
    text = sealed.path.read_text().replace('"parts": {', '"parts": {\n "ranking": {"order": ["mine"]},')
    sealed.path.chmod(0o644)
    sealed.path.write_text(text)
    assert verify(sealed.path).changed == ("'ranking' is there twice",)


@pytest.mark.parametrize(("text", "said"), [
    ("", "was cut short"), ("[]", "it does not say that it is one"), ('{"pullcast_lock": 1}', "seal is not text"),
    ('{"pullcast_lock": 1, "seal": "x", "sha256": {}, "parts": {"a": NaN}}', "NaN is not a number"),
    ('{"pullcast_lock": 1, "seal": "x", "sha256": {}, "parts": {"a": 1e999}}', "not JSON compliant"),
    ('{"pullcast_lock": 1, "seal": "x", "sha256": {}, "parts": {"a": "\\ud800"}}', "surrogates not allowed"),
    ("[" * 100000, "is not a lock of pullcast"),
])
def test_what_is_no_lock_is_said_to_be_none(tmp_path, text, said):
    path = tmp_path / "a.lock.json"
    path.write_text(text)
    with pytest.raises(StoreError, match="is not a lock of pullcast, or was cut short") as caught:
        verify(path)
    assert said in str(caught.value)


def test_a_newer_lock_and_a_missing_one(tmp_path):
    path = tmp_path / "a.lock.json"
    with pytest.raises(InputError, match="no such lock file"):
        verify(path)
    path.write_text('{"pullcast_lock": 2}')
    with pytest.raises(StoreError, match="written in layout 2 by a newer pullcast; this one reads up to 1"):
        verify(path)


def test_a_lock_cut_short_anywhere_is_found(sealed):
    text = sealed.path.read_bytes()
    copy = sealed.path.with_name("copy.lock.json")
    for length in range(0, len(text) - 2, 977):
        copy.write_bytes(text[:length])
        with pytest.raises(StoreError):
            verify(copy)


def test_a_lock_is_never_replaced_and_never_half_written(tmp_path, monkeypatch):
    path = tmp_path / "a.lock.json"
    lock(path, [curve_of()])
    before = path.read_bytes()
    with pytest.raises(InputError, match="is there already, and a lock is never replaced"):
        lock(path, [curve_of()])
    assert path.read_bytes() == before
    with pytest.raises(InputError, match=r"a lock's name ends in \.lock\.json"):
        lock(tmp_path / "a.json", [curve_of()])
    with pytest.raises(InputError, match="there is no curve to lock"):
        lock(tmp_path / "b.lock.json", [])
    with pytest.raises(InputError, match=r"the folder .* is not there"):
        lock(tmp_path / "no" / "b.lock.json", [curve_of()])
    with pytest.raises(InputError, match="this cannot be sealed"):
        lock(tmp_path / "b.lock.json", [curve_of()], ranking={"a": float("nan")})

    def broken(self, *args, **kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", broken)
    with pytest.raises(StoreError, match=r"No space left on device\)\. Nothing was left behind"):
        lock(tmp_path / "c.lock.json", [curve_of()])
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.lock.json"]


def test_locks_in_one_folder_point_back_and_a_clock_set_back_is_noted(tmp_path):
    noon = datetime(2025, 5, 10, 12, tzinfo=UTC)

    def make(name, time):
        made = lock(tmp_path / name, [curve_of()], now=time)
        os.utime(made.path, (time.timestamp(), time.timestamp()))
        return made

    first = make("a.lock.json", noon)
    assert first.head["sealed_utc"] == "2025-05-10T12:00:00+00:00"
    assert (first.head["previous"], first.head["clock"]) == (None, "")
    second = make("b.lock.json", noon + timedelta(hours=1))
    assert second.head["previous"] == {"file": "a.lock.json", "seal": first.seal,
                                       "sealed_utc": "2025-05-10T12:00:00+00:00"}
    assert second.head["clock"] == ""
    third = make("c.lock.json", noon - timedelta(days=2))
    expected = ("the clock stood at 2025-05-08T12:00:00+00:00 when this was sealed, before b.lock.json beside it "
                "(2025-05-10T13:00:00+00:00): it was set back, or that file's time is wrong")
    assert third.head["clock"] == expected
    assert third.head["previous"]["file"] == "b.lock.json"
    assert verify(third.path).notes == (expected,)
    assert verify(third.path).unchanged


def test_a_lock_from_the_future_is_noted(tmp_path):
    made = lock(tmp_path / "a.lock.json", [curve_of()], now=datetime.now(UTC) + timedelta(days=1))
    assert "after now by this machine's clock" in verify(made.path).notes[0]


def test_a_text_that_is_no_seal_is_refused(sealed):
    for text in ("xyz", "1234567", "0" * 65, ""):
        with pytest.raises(InputError, match="is no seal; give 8 to 64 of the digits"):
            verify(sealed.path, text)


def test_an_unknown_curve_is_refused(sealed):
    with pytest.raises(InputError, match=r"holds no curve 'cold cam'; it holds as it stands, warm cam"):
        sealed.curve("cold cam")

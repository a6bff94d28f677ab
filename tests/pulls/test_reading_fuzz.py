"""Whatever bytes a pull file or a session card holds: it is read or refused with a message, never a crash."""

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pullcast.errors import InputError
from pullcast.pulls.cells import number
from pullcast.pulls.reading import read_pull
from pullcast.pulls.session_card import read_session

CALM = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
CELL = st.one_of(st.integers(-10, 9000).map(str), st.floats(-1e4, 1e4).map(lambda v: f"{v:.2f}"),
                 st.sampled_from(["", "n/a", "1,5", "1.234,5", "12:30", "ok", "5500 rpm", "1e5", "nan", '"', "-"]))
ROW = st.lists(CELL, min_size=1, max_size=5)
HEADER = st.sampled_from([["RPM", "Torque Nm"], ["RPM", "kW", "Nm"], ["n", "x"], ["Speed", "Torque", "Power"], []])


def attempt(read, path):
    """What was read, or the message it was refused with; any other error is a failure."""
    try:
        return read(path), ""
    except InputError as refused:
        return None, str(refused)


def read_or_refuse(path):
    pull, refusal = attempt(read_pull, path)
    if pull is None:
        assert str(path) in refusal
        return
    assert pull.rpm.size >= 3
    assert np.all(np.diff(pull.rpm) > 0)
    assert np.isfinite(pull.torque).all()


@CALM
@given(header=HEADER, rows=st.lists(ROW, max_size=30), mark=st.sampled_from([",", ";", "\t", "  ", "|"]))
def test_any_table(tmp_path, header, rows, mark):
    path = tmp_path / "p.csv"
    path.write_text("\n".join(mark.join(r) for r in [header, *rows]), encoding="utf-8")
    read_or_refuse(path)


@CALM
@given(raw=st.binary(max_size=400))
def test_any_bytes(tmp_path, raw):
    path = tmp_path / "p.csv"
    path.write_bytes(raw)
    read_or_refuse(path)


@CALM
@given(raw=st.one_of(st.binary(max_size=200), st.lists(st.sampled_from([
    "[session]", "[[run]]", "[judge]", "[weather]", "[columns]", 'part = "A"', 'file = "a.csv"', "band = 3",
    'rpm = 2', 'basis = "std"', 'pressure = "990 hPa"', 'humidity = 3', "run = 1", "weather = 2", "[run]",
    "parts = []", 'temperature = "20 degC"', "source = 3", "title = 4", 'exclude = ""', "[sweep]", 'rate = "x"']),
    max_size=12).map(lambda s: "\n".join(s).encode())))
def test_any_card(tmp_path, raw):
    path = tmp_path / "s.toml"
    path.write_bytes(raw)
    session, refusal = attempt(read_session, path)
    assert session is not None or str(path) in refusal


@given(st.floats(-1e6, 1e6), st.sampled_from([".", ","]))
def test_numbers_come_back_with_either_mark(value, decimal):
    text = f"{value:,.3f}"
    if decimal == ",":
        text = text.translate(str.maketrans(",.", ".,"))
    assert number(text, decimal) == float(f"{value:.3f}")

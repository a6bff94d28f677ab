"""Sizes and times are bounded: cards, pulls, results, stores."""

import io
import sqlite3
import time
import zipfile

import h5py
import numpy as np
import pytest

from points import invented
from pullcast.card import read_engine, read_engine_text
from pullcast.card.starter import starter
from pullcast.errors import CardError, InputError, StoreError
from pullcast.pulls import textfile
from pullcast.pulls.reading import read_pull
from pullcast.results.curve import Curve
from pullcast.solve.packing import pack, unpack
from pullcast.solve.store import Store

CARD = starter("car_four_4v")
LONG = 900_000
ENDLESS = {
    "blanks": CARD.replace('"86 mm"', '"86 ' + " " * LONG + 'x"', 1),
    "an event": CARD.replace("[cam.intake]", "[cam.intake]\nivo = \"13 deg" + " " * LONG + 'x"', 1),
    "a dotted name": CARD + "\n" + "a." * (LONG // 2) + "b = 1", "a header": CARD + "\n[" + "a." * 3000 + "b]",
    "signs": CARD + "\n" + "=" * LONG, "brackets": CARD + "\nx = " + "[" * LONG,
    "unknown keys": CARD + "\n" + "\n".join(f"k{i} = 1" for i in range(20_000)),
    "tables": CARD + "\n" + "[[intake.pipe]]\n" * 10_000}


@pytest.mark.parametrize("name", ENDLESS)
def test_a_card_of_any_kind_of_length_is_refused_soon_and_shortly(name):
    began = time.process_time()
    with pytest.raises(CardError) as refused:
        read_engine_text(ENDLESS[name], name="card.toml")
    assert time.process_time() - began < 15.0
    assert len(str(refused.value)) < 40_000


def test_a_card_above_a_megabyte_is_not_read(tmp_path):
    (tmp_path / "card.toml").write_text("#" * 1_000_001)
    with pytest.raises(CardError, match="1000001 bytes, more than 1000000"):
        read_engine(tmp_path / "card.toml")


def test_what_is_no_plain_file_is_not_waited_for(tmp_path):
    import os

    os.mkfifo(tmp_path / "card.toml")
    with pytest.raises(CardError, match="a device or a pipe, not a file"):
        read_engine(tmp_path / "card.toml")


def test_a_log_too_long_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(textfile, "LARGEST", 1000)
    (tmp_path / "p.csv").write_text("RPM,Nm\n" + "1000,1\n" * 200)
    with pytest.raises(InputError, match="cut the log to the pull"):
        read_pull(tmp_path / "p.csv")


def test_a_result_that_unpacks_to_gigabytes_is_not_unpacked(tmp_path):
    with h5py.File(tmp_path / "big.nc", "w") as file:
        file.create_dataset("torque", shape=(200_000_000,), dtype="f8", chunks=(1_000_000,), compression="gzip")
    with pytest.raises(StoreError, match="1600 MB unpacked"):
        Curve.load(tmp_path / "big.nc")


def test_a_stored_point_that_unpacks_to_gigabytes_is_not_unpacked():
    kind, head, _ = pack(invented())
    body = io.BytesIO()
    with zipfile.ZipFile(body, "w", zipfile.ZIP_DEFLATED) as packed, packed.open("out.npy", "w") as held:
        np.lib.format.write_array_header_1_0(held, {"descr": "<f8", "fortran_order": False, "shape": (30_000_000,)})
        for _ in range(30):
            held.write(b"\0" * 8_000_000)
    assert len(body.getvalue()) < 1_000_000
    with pytest.raises(ValueError, match="240 MB unpacked"):
        unpack(kind, head, body.getvalue())


def test_a_store_with_views_and_triggers_of_its_own_runs_none_of_them(tmp_path):
    path = tmp_path / "s.sqlite3"
    with Store(path) as store:
        store.put("a" * 64, invented())
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE taken (n)")
    db.execute("CREATE TRIGGER t AFTER INSERT ON points BEGIN INSERT INTO taken VALUES (load_extension('x')); END")
    db.commit()
    db.close()
    with Store(path) as store, pytest.raises(StoreError, match=r"s\.sqlite3"):
        store.put("b" * 64, invented())


@pytest.mark.parametrize("hidden", ["\\u001b[2J", "\\u0007", "\\u009b31m", "\\u0000", "\\b"])
def test_what_a_terminal_would_obey_is_refused(hidden):
    for text in (CARD.replace('name = "my engine"', f'name = "{hidden}"', 1), CARD + f'\n["{hidden}"]\nx = 1'):
        with pytest.raises(CardError, match=r"card.toml: a text or key holds the control character 0x") as refused:
            read_engine_text(text, name="card.toml")
        assert str(refused.value).isprintable()

"""The command as a user meets it: exit codes, what goes to stdout and stderr. The forecast is a stand-in."""

import atexit
import gc
import json
import subprocess
import sys
from types import SimpleNamespace as Bag

import pytest

import pullcast.answers.curves
import pullcast.card
from pullcast import cli
from pullcast.errors import CardError, InputError, Problem, SolveError

DAY = Bag(pressure=98900.0, temperature=295.15, humidity=0.45)


@pytest.fixture
def run(monkeypatch, capsys, sample_curve):
    """Run the command with a reader and a forecast that give the sample; returns (code, stdout, stderr)."""
    seen = {}

    def start(*args, reading=None, forecast=None, failed=()):
        def read(path):
            if reading:
                raise reading
            return Bag(name="Kestrel test four", day=DAY, speeds=(2000.0, 3000.0))

        def predict(engine, **options):
            seen.update(options)
            if forecast:
                raise forecast
            options["on_point"](2000.0, 1, 2, "")
            return sample_curve(options["speeds"] or engine.speeds, failed, options["traces"])

        monkeypatch.setitem(vars(pullcast.card), "read_engine", read)
        monkeypatch.setattr(pullcast.answers.curves, "predict", predict)
        code = cli.main(list(args))
        out = capsys.readouterr()
        return code, out.out, out.err

    start.seen = seen
    return start


def test_table(run):
    code, out, err = run("predict", "v8.toml")
    assert code == 0
    assert "Kestrel test four" in out
    assert "torque" in out
    assert err == ""


def test_json_is_alone_on_stdout(run):
    code, out, err = run("predict", "v8.toml", "--json", "--units", "us", "--speeds", "2500,4500")
    doc = json.loads(out)
    assert (code, err) == (0, "")
    assert [p["speed_rpm"] for p in doc["points"]] == [2500, 4500]
    assert "torque_lbft" in doc["points"][0]
    assert doc["files"] == []


def test_options_reach_the_forecast(run):
    run("predict", "v8.toml", "--cell", "0.5 in", "--workers", "2", "--traces", "--speeds", "2000:3000:500")
    assert run.seen["cell"] == pytest.approx(0.0127)
    assert (run.seen["workers"], run.seen["traces"]) == (2, True)
    assert run.seen["speeds"] == [2000, 2500, 3000]


def test_basis(run):
    from pullcast.pulls.correction import correction_factor

    plain = json.loads(run("predict", "v8.toml", "--json")[1])
    std = json.loads(run("predict", "v8.toml", "--json", "--basis", "std")[1])
    factor = correction_factor("std", DAY.pressure, DAY.temperature, DAY.humidity).factor
    assert factor > 1.02
    assert std["correction_factor"] == pytest.approx(factor)
    assert std["points"][0]["torque_Nm"] == pytest.approx(factor * plain["points"][0]["torque_Nm"])
    assert std["points"][0]["bsfc_g_per_kWh"] == plain["points"][0]["bsfc_g_per_kWh"]
    assert "hPa dry" in std["correction_note"]


def test_files(run, tmp_path):
    code, out, _ = run("predict", "v8.toml", "--out", str(tmp_path / "a.csv"), "--out", str(tmp_path / "a.png"))
    assert code == 0
    assert {p.name for p in tmp_path.iterdir()} == {"a.csv", "a.png"}
    assert "Written:" in out


def test_a_folder_gets_everything(run, tmp_path):
    assert run("predict", "v8.toml", "--traces", "--out", str(tmp_path / "new"))[0] == 0
    assert {p.name for p in (tmp_path / "new").iterdir()} == {"v8.nc", "v8.csv", "v8.png", "v8_cycle.png"}


def test_not_converged_is_3_and_keeps_the_rest(run, tmp_path):
    code, out, _ = run("predict", "v8.toml", "--out", str(tmp_path / "a.csv"), failed=(1,))
    assert code == 3
    assert "* 3000 rpm: broke down" in out
    assert len((tmp_path / "a.csv").read_text().splitlines()) == 3


@pytest.mark.parametrize(("error", "code", "text"), [
    (InputError("no such card x.toml"), 2, "pullcast: no such card x.toml\n"),
    (CardError([Problem("x.toml", 3, "bore", "is negative", "Give a length above zero.")]), 2,
     "pullcast: the card cannot be used; 1 problem:\n  x.toml:3: bore: is negative. Give a length above zero.\n"),
    (KeyboardInterrupt(), 130, "pullcast: interrupted.\n"),
])
def test_errors_while_reading(run, error, code, text):
    got, out, err = run("predict", "x.toml", "--json", reading=error)
    assert (got, out, err) == (code, "", text)


def test_a_breakdown_is_3_and_writes_nothing(run, tmp_path):
    error = SolveError("pressure fell below zero", rpm=5000.0, angle_deg=131.5, component="primary 3")
    code, out, err = run("predict", "x.toml", "--out", str(tmp_path / "new"), forecast=error)
    assert (code, out) == (3, "")
    assert err == "pullcast: pressure fell below zero at 5000 rpm, 131.5 deg crank, in primary 3\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("args", "text"), [
    (["predict", "x.toml", "--speeds", "0"], "--speeds '0': 0 is not above zero"),
    (["predict", "x.toml", "--cell", "3"], "--cell: "),
    (["predict", "x.toml", "--out", "a.doc"], "not .doc"),
    (["predict", "x.toml", "--units", "metric"], "'metric' is not one of 'si', 'us'"),
    (["predict", "x.toml", "--basis", "sae"], "'sae' is not one of"),
    (["predict", "x.toml", "--workers", "0"], "--workers"),
    (["predict"], "Missing argument 'CARD'"),
    (["predict", "x.toml", "--colour"], "No such option"),
    (["prdict"], "Did you mean 'predict'?"),
])
def test_wrong_use_is_2_in_plain_text(run, args, text):
    code, out, err = run(*args)
    assert (code, out) == (2, "")
    assert text in err
    assert err.startswith("pullcast: ")
    assert "Traceback" not in err


def test_keys_are_documented(run):
    code, out, _ = run("predict", "--keys")
    assert code == 0
    doc = json.loads(run("predict", "v8.toml", "--json", "--traces")[1])
    for key in doc["points"][0]:
        assert f"| {key} |" in out


@pytest.mark.parametrize("verb", [f.__name__ for f in cli.VERBS])
def test_every_verb_has_help_with_an_example(run, verb):
    code, out, err = run(verb, "--help")
    assert (code, err) == (0, "")
    assert "Example:" in out
    assert f"  pullcast {verb}" in out


def test_no_arguments_show_help(run):
    code, out, _ = run()
    assert code == 0
    assert "Commands:" in out


def test_version():
    from importlib.metadata import version

    done = subprocess.run([sys.executable, "-m", "pullcast", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout == f"pullcast {version('pullcast')}\n"


def test_help_loads_nothing_heavy():
    code = ("import sys; from pullcast.cli import main; main(['--help']); "
            "print([m for m in ('numpy', 'numba', 'xarray', 'pandas', 'matplotlib', 'cantera', 'pint', 'pydantic', "
            "'scipy') if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_program_lets_the_collector_rest(monkeypatch, capsys):
    before = gc.get_threshold()
    monkeypatch.setattr(sys, "argv", ["pullcast", "--help"])
    try:
        assert cli.main() == 0
        assert gc.get_threshold()[0] == 50_000
    finally:
        gc.set_threshold(*before)
        atexit.unregister(gc.freeze)
    assert "pullcast" in capsys.readouterr().out

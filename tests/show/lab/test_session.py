"""A page without a browser: messages in, values out; work done at once instead of in threads."""

import json
import random
import tomllib

import pytest

pytest.importorskip("bokeh", reason="the live page's libraries are not installed")

from bokeh.document import Document

from pullcast.show.lab.behind import Memory
from pullcast.show.lab.door import Door
from pullcast.show.lab.host import Shared
from pullcast.show.lab.knobs import KNOBS
from pullcast.show.lab.session import Session
from pullcast.show.lab.wire import Message
from pullcast.solve.sweep import Failed


class Now:
    """An executor that does it at once."""

    def submit(self, function, *args):
        function(*args)


class Waiting:
    """A background whose points come when the test says so."""

    def __init__(self):
        self.memory, self.runs, self.cancelled = Memory(), [], 0

    def run(self, owner, jobs, on_point):
        self.runs.append((jobs, on_point))

    def cancel(self, owner):
        self.cancelled += 1


class Desk(Document):
    """A document whose callbacks the test runs."""

    def __init__(self):
        super().__init__()
        self.next, self.timed = [], {}

    def add_next_tick_callback(self, callback):
        self.next.append(callback)

    def add_timeout_callback(self, callback, timeout):
        self.timed[id(callback)] = callback
        return id(callback)

    def tick(self):
        while self.next:
            self.next.pop(0)()

    def rest(self):
        for key in list(self.timed):
            self.timed.pop(key)()
        self.tick()


@pytest.fixture
def opened(shelf, monkeypatch):
    def make(query=()):
        desk, behind = Desk(), Waiting()
        page = Session(Shared(shelf, behind, Now()), list(query), desk)
        page.start()
        desk.tick()
        page.hear(Message("ready"))
        desk.tick()
        return page, desk, behind
    return make


SINGLE = [("card", "engines/lab_single.toml")]


def said(page, do, key="", text=""):
    page.hear(Message(do, key, text))
    page.doc.tick()


def knob(page, key):
    return next(k for k in page.wire.knobs["knobs"] if k["key"] == key)


def test_a_page_opens_with_the_lumped_curve_and_everything_said(opened):
    page, _, behind = opened(SINGLE)
    assert page.wire.words["name"] == "Aldermoor teaching single"
    assert "by the lumped model" in page.wire.words["sentence"]
    assert page.curves.curve.yaxis.axis_label == "torque, N m"
    assert page.wire.tables["numbers"][0]["rows"][0][0] == "peak torque"
    assert page.wire.tables["assumed_head"].startswith("What was assumed: ")
    assert behind.runs == []  # the waves wait for a rest


def test_the_waves_are_marched_after_a_rest_and_take_the_curve_when_complete(opened):
    from pullcast.solve.jobs import Job, solve_job
    from pullcast.solve.numerics import Numerics

    page, desk, behind = opened(SINGLE)
    desk.rest()
    jobs, on_point = behind.runs[-1]
    assert jobs[0].traces
    assert [j.rpm for j in jobs[1:4]] == sorted((j.rpm for j in jobs[1:4]), key=lambda v: abs(v - jobs[1].rpm))
    coarse = Numerics(cell=0.1, tolerance=0.02)
    for job in jobs:
        on_point(job, solve_job(Job(job.engine, job.rpm, "wave", coarse, job.traces, job.stations)))
        desk.tick()
        if job is jobs[-2]:
            assert "by the lumped model" in page.wire.words["sentence"]
    desk.rest()
    assert "by the wave model" in page.wire.words["sentence"]
    assert page.wire.march["text"] == "The wave model has come."
    assert page.wire.words["key_weak"] == "now, lumped model"
    assert "by the wave model" in page.wire.words["cycle_by"]


def test_the_newest_position_wins(opened):
    page, desk, behind = opened(SINGLE)
    desk.rest()
    old_jobs, old = behind.runs[-1]
    said(page, "knob", "spark", "20")
    desk.rest()
    old(old_jobs[1], Failed(old_jobs[1].rpm, "late"))
    desk.tick()
    assert page._done == 0
    assert page.now.wave_points == {}
    assert behind.runs[-1][0][0].engine.burn.table[0][1] == 20.0


def test_a_page_that_stands_is_sent_its_figures_once_more(opened):
    page, _, _ = opened(SINGLE)
    sources = []
    page.curves._strong.on_change("data", lambda name, old, new: sources.append(len(new["now"])))
    said(page, "ready")
    assert sources == [0, 12]
    assert page.curves.speeds.end == 3660.0


def test_no_waves_before_the_page_stands_nor_while_nobody_looks(shelf):
    desk, behind = Desk(), Waiting()
    page = Session(Shared(shelf, behind, Now()), list(SINGLE), desk)
    page.start()
    desk.tick()
    desk.rest()
    assert behind.runs == []
    said(page, "ready")
    page.rest()
    desk.rest()
    assert behind.runs == []
    page.go_on()
    desk.tick()
    assert len(behind.runs) == 1
    said(page, "stop")
    page.rest()
    page.go_on()
    desk.tick()
    assert len(behind.runs) == 1


def test_a_page_that_is_put_away_goes_where_a_link_leads_back(opened):
    page, desk, _ = opened(SINGLE)
    page.put_away()
    desk.tick()
    assert json.loads(page.wire.carrier.told)["away"]


def test_a_page_whose_card_no_link_can_hold_is_not_put_away(opened):
    page, desk, _ = opened(SINGLE)
    lines = "\n".join(f"# {random.Random(n).random()}" for n in range(3000))  # no two alike: not to be packed
    said(page, "text", "", page.wire.card["text"] + lines + "\n")
    assert page.wire.query is None
    page.put_away()
    desk.tick()
    assert page.wire.carrier.told == ""


def test_a_page_takes_a_place_until_it_is_closed(shelf):
    shared = Shared(shelf, Waiting(), Now(), door=Door(most=1))
    page = Session(shared, list(SINGLE), Desk())
    shared.door.enter(page)
    assert shared.door.full
    page.close()
    assert not shared.door.full


def test_only_the_last_of_many_moves_is_marched(opened):
    page, desk, behind = opened(SINGLE)
    for text in ("18", "19", "20"):
        said(page, "knob", "spark", text)
    desk.rest()
    assert [jobs[0].engine.burn.table[0][1] for jobs, _ in behind.runs] == [20.0]


def test_an_engine_that_cannot_be_built_is_told(opened, monkeypatch):
    from pullcast.errors import InputError
    from pullcast.show.lab import session as module

    def fail(*args):
        raise InputError("the intake reaches no port")

    page, desk, behind = opened(SINGLE)
    monkeypatch.setattr(module, "lumped_curve", fail)
    monkeypatch.setattr(module, "wave_jobs", fail)
    said(page, "knob", "spark", "18")
    assert page.wire.knobs["faults"] == ["the intake reaches no port"]
    desk.rest()
    assert behind.runs == []


def test_a_bad_value_stays_at_its_field_until_a_good_one_comes(opened):
    page, _, _ = opened(SINGLE)
    before = page.now
    said(page, "knob", "spark", "500")
    assert "outside what can be" in knob(page, "spark")["fault"]
    assert knob(page, "spark")["text"] == "500"
    assert page.now is before
    said(page, "knob", "spark", "20")
    assert knob(page, "spark")["fault"] == ""
    assert page.now.engine.burn.table[0][1] == 20.0


def runner_length(page):
    return KNOBS["runner_length"].read(page.now.engine, tomllib.loads(page.now.setup.text))


def test_in_us_units_sliders_figures_and_tables_are_in_inches(shelf):
    page = Session(Shared(shelf, Waiting(), Now(), units="us"), [*SINGLE, ("temperature", "20")], Desk())
    page.start()
    page.doc.tick()
    assert (knob(page, "runner_length")["unit"], knob(page, "runner_length")["text"]) == ("in", "7.09")
    assert (knob(page, "temperature")["unit"], knob(page, "temperature")["text"]) == ("°F", "68")
    said(page, "knob", "runner_length", "8")
    assert runner_length(page) == pytest.approx(8 * 0.0254)
    assert "runner_length=8+in" in page.wire.query
    said(page, "knob", "runner_length", "210 mm")
    assert runner_length(page) == pytest.approx(0.21)
    said(page, "knob", "runner_length", "seven")
    assert "does not start with a number" in knob(page, "runner_length")["fault"]
    figures = page.cycles
    labels = [f.yaxis[0].axis_label for f in (figures.lifts, figures.pressures, figures.flows, figures.loop,
                                              figures.waves)]
    assert labels == ["valve lift, in", "pressure, psi", "flow at the valves, lb/h", "cylinder pressure, psi",
                      "from the tract's mouth, in"]
    assert figures.loop.xaxis[0].axis_label == "cylinder volume, in³"
    assert "lb-ft" in page.wire.words["sentence"]
    assert max(figures._now.data["intake_lift"]) == pytest.approx(page.now.engine.cam.intake.lift / 0.0254, rel=0.01)


def test_undo_redo_reset_and_a_new_base(opened):
    page, _, _ = opened(SINGLE)
    start = page.bench
    said(page, "knob", "lambda", "0.9")
    assert page.base.setup.bench == start
    said(page, "undo")
    assert page.bench == start
    assert page.now is page.base
    said(page, "redo")
    assert page.now.engine.mixture.lambda_ == 0.9
    said(page, "rebase")
    assert page.base.engine.mixture.lambda_ == 0.9
    assert not page.wire.knobs["can"]["rebase"]
    said(page, "reset")
    assert page.now.engine.mixture.lambda_ == 0.98


def test_parts_and_cards_are_picked_from_the_shelf_alone(opened):
    page, _, _ = opened(SINGLE)
    said(page, "card", "card", "engines/hillclimb_v8.toml")
    assert page.wire.words["name"] == "Kestrel hill-climb V8"
    said(page, "part", "cam", "cams/v8_warm.toml")
    assert page.now.engine.cam.name == "V8 warm hydraulic roller"
    said(page, "part", "cam", "../../secret.toml")
    said(page, "part", "parts", "x")
    said(page, "card", "card", "/etc/passwd")
    assert page.now.engine.cam.name == "V8 warm hydraulic roller"
    said(page, "part", "exhaust", "exhausts/six_62.toml")
    fault = next(p for p in page.wire.knobs["picks"] if p["key"] == "exhaust")["fault"]
    assert "the groups do not hold cylinders 1 to 8" in fault
    assert page.now.engine.exhaust.name == "V8 long-tube headers 1.75 in"


def test_an_unknown_key_is_said_and_a_known_one_listed_and_taken_back(opened):
    page, _, _ = opened(SINGLE)
    said(page, "key", "cam.advanse", "2 deg")
    assert "Did you mean advance" in page.wire.knobs["key_fault"]
    said(page, "key", "cam.intake.lash", "0.3 mm")
    assert page.wire.knobs["keys"] == [["cam.intake.lash", "0.3 mm"]]
    said(page, "key", "cam.intake.lash", "")
    assert page.wire.knobs["keys"] == []


def test_a_typed_card_is_kept_while_controls_move_and_used_when_asked(opened):
    page, _, _ = opened(SINGLE)
    own = page.wire.card["text"]
    typed = own.replace("85.0 mm", "87.0 mm")
    said(page, "look", "", typed)
    said(page, "knob", "spark", "20")
    assert page.wire.card["text"] == typed
    said(page, "text", "", typed)
    assert page.now.engine.block.bore == pytest.approx(0.087)
    assert page.wire.query.startswith("text=")
    said(page, "open", "../../evil.toml", "name = [")
    assert page.wire.card["told"] == "../../evil.toml was not taken."
    assert page.wire.card["faults"]
    assert page.now.engine.block.bore == pytest.approx(0.087)


def test_a_bad_link_opens_the_first_engine_and_says_why(opened, shelf):
    page, _, _ = opened([("card", "../../etc/passwd"), ("nonsense", "1")])
    assert page.bench.card == shelf.first
    assert any("nonsense" in f for f in page.wire.knobs["faults"])
    assert any("The link makes no engine" in f for f in page.wire.knobs["faults"])


def test_what_is_shown_and_the_speed_go_into_the_link(opened):
    page, _, _ = opened(SINGLE)
    said(page, "shows", "", "volumetric_efficiency")
    said(page, "rpm", "", "99999")
    assert page.rpm == page.now.engine.speeds[-1]
    assert "shows=volumetric_efficiency" in page.wire.query
    assert page.curves.curve.yaxis.axis_label == "volumetric efficiency, %"
    said(page, "shows", "", "nonsense")
    said(page, "rpm", "", "fast")
    assert page.view.shows == "volumetric_efficiency"


def test_a_report_is_one_file_without_a_script(opened, monkeypatch):
    page, _, _ = opened(SINGLE)
    handed = []
    monkeypatch.setattr(page.wire, "hand_out", lambda *args: handed.append(args))
    said(page, "report")
    name, text, kind, _ = handed[0]
    assert (name, kind) == ("aldermoor_teaching_single.html", "text/html")
    assert "<script" not in text
    assert "Aldermoor teaching single" in text


def test_a_lesson_asks_first_and_puts_its_engine_on_the_bench(opened, monkeypatch):
    from concurrent.futures import Future

    from pullcast.show.lessons import lesson_named

    result = lesson_named("filling").run()
    page, _, _ = opened()
    done = Future()
    done.set_result(result)
    monkeypatch.setattr(Shared, "lesson", lambda self, key, run: done)
    said(page, "lessons")
    assert len(page.wire.lesson["list"]) >= 8
    said(page, "lesson", "filling")
    assert page.bench.card == "engines/lab_single.toml"
    said(page, "guess", "", "")
    assert page.wire.lesson["fault"] == "First choose what you expect."
    said(page, "guess", "", result.right)
    assert page.wire.lesson["came"]
    said(page, "answer", "", "1")
    assert not page.wire.lesson["right"]
    said(page, "answer", "", f"{lesson_named('filling').question(result).answer:.2f}")
    assert page.wire.lesson["right"]
    said(page, "try", "1")
    assert page.now.engine.day.temperature == pytest.approx(273.15 + 36)
    assert page.base.engine.day.temperature != page.now.engine.day.temperature


def test_a_page_that_is_gone_is_not_drawn_on(opened):
    page, desk, behind = opened(SINGLE)
    desk.rest()
    jobs, on_point = behind.runs[-1]
    page.close()
    on_point(jobs[1], Failed(1.0, "late"))
    desk.tick()
    assert page.now.wave_points == {}

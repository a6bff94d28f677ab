"""One open page: what it says comes in, what it shows goes out. All of it runs on the page's own thread."""

from __future__ import annotations

from collections.abc import Callable

from pullcast.answers.check import check
from pullcast.errors import InputError, PullcastError
from pullcast.show.lab import address
from pullcast.show.lab.address import View
from pullcast.show.lab.bench import BadKnob, Bench, Setup, faults, set_up
from pullcast.show.lab.curve_figures import SHOWN, CurveFigures
from pullcast.show.lab.cycle_figures import CycleFigures
from pullcast.show.lab.drawing import Drawing
from pullcast.show.lab.files import card_file, report_file, seen_card
from pullcast.show.lab.history import History
from pullcast.show.lab.host import Shared
from pullcast.show.lab.knob import in_system
from pullcast.show.lab.knobs import KNOBS
from pullcast.show.lab.lesson_side import LessonSide
from pullcast.show.lab.newest import Newest
from pullcast.show.lab.panel_view import knob_view
from pullcast.show.lab.readings import shown_speed, wave_jobs
from pullcast.show.lab.results import Results, lumped_curve, lumped_cycle
from pullcast.show.lab.wire import Message, Wire
from pullcast.solve.jobs import Job

REST = 350  # ms of stillness before the waves are marched
FEW = 250  # ms between two drawings of points as they come


class Session:
    """One open page. ``doc`` is its bokeh document (``add_next_tick_callback``, ``add_timeout_callback``)."""

    def __init__(self, shared: Shared, query: list[tuple[str, str]], doc) -> None:
        self.shared, self.doc = shared, doc
        self.wire = Wire(self.hear)
        self.curves, self.cycles = CurveFigures(), CycleFigures(shared.units)
        self.lessons = LessonSide(self)
        self._newest = Newest(shared.threads)
        self._closed = self._dirty = self._pointed = self._stopped = self._stands = False
        self.heard = shared.door.clock()
        bench, self.view, self._notes = address.decode(query, SHOWN)
        setup = self._first(bench)
        self.history = History(setup.bench)
        self.base = self.now = Results(setup)
        if bench.card or bench.text:
            self.base = self._card_as_base(setup)
        self.fields: dict[str, str] = {}
        self.faults: list[str] = list(self._notes)
        self.typed: dict[str, str] = {}
        self._draft = False  # whether a card is being typed that has not been used

    # ---- starting and ending
    def _first(self, bench: Bench) -> Setup:
        """The engine of the link, or the shelf's first where the link names none or a bad one."""
        if bench.card or bench.text:
            try:
                return set_up(bench, self.shared.shelf)
            except InputError as error:
                self._notes.append(f"The link makes no engine: {str(error).splitlines()[0]}")
        return set_up(Bench(card=self.shared.shelf.first), self.shared.shelf)

    def _card_as_base(self, setup: Setup) -> Results:
        """The link's card without what was changed on it."""
        plain = Bench(card=setup.bench.card, text=setup.bench.text)
        if plain == setup.bench:
            return self.now
        try:
            return Results(set_up(plain, self.shared.shelf))
        except InputError:
            return self.now

    def start(self) -> None:
        """Fill the page and begin to compute."""
        self.show_all()
        self._compute()

    def close(self) -> None:
        """The page is gone: nothing of it is computed any more."""
        self._closed = True
        self._newest.drop()
        self.shared.behind.cancel(self)
        self.shared.door.leave(self)

    def figures(self) -> dict[str, object]:
        """The figures of the page by the names of their places on it."""
        cycle = ("lifts", "pressures", "flows", "loop", "waves")
        return {"curve": self.curves.curve, "difference": self.curves.difference,
                **{name: getattr(self.cycles, name) for name in cycle},
                "lesson_a": self.lessons.figures.a, "lesson_b": self.lessons.figures.b}

    # ---- as the door sees it
    def watched(self) -> bool:
        """Whether a browser is connected."""
        context = self.doc.session_context
        return context is not None and context.session is not None and context.session.connection_count > 0

    def rest(self) -> None:
        """Nobody looks: the waves are not marched."""
        self.shared.behind.cancel(self)
        self._moves += 1

    def go_on(self) -> None:
        """Somebody looks again: the waves go on unless they were stopped."""
        if not self._stopped:
            self.soon(self._march)

    def put_away(self) -> None:
        """Send the page away, to where a link leads back; one whose card is too long for a link stays."""
        if self._query() is not None:
            self.soon(self.wire.send_away)

    # ---- what the page says
    def hear(self, message: Message) -> None:
        """Do what the page says."""
        self.heard = self.shared.door.clock()
        doing: dict[str, Callable[[Message], None]] = {
            "knob": self._knob, "part": self._part, "card": self._card, "key": self._key, "rpm": self._speed,
            "shows": self._shows, "undo": lambda m: self._go(self.history.undo()),
            "redo": lambda m: self._go(self.history.redo()), "reset": self._reset, "rebase": self._rebase,
            "ready": self._ready, "stop": self._stop, "march": lambda m: self._march(), "save": self._save,
            "report": self._report,
            "look": self._look, "text": self._text, "open": self._open}
        if message.do in doing:
            doing[message.do](message)
        else:
            self.lessons.hear(message)

    def _ready(self, message: Message) -> None:
        """The page stands: its figures are sent once more, whole, in case they changed while they were built."""
        self.doc.hold()
        try:
            self.curves.clear()
            self.cycles.clear()
            Drawing(self).draw()
        finally:
            self.doc.unhold()
        self._stands = True
        self._march_at_rest()

    def _knob(self, message: Message) -> None:
        knob = KNOBS.get(message.key)
        if knob is not None:
            text = message.text
            if text and self.shared.units == "us":  # a bare number in a link is in the first of the two systems
                text = in_system(knob, "us").told(text)
            self.propose(self.bench.with_knob(knob.key, text), knob.key, message.text)

    def _part(self, message: Message) -> None:
        if message.key in self.shared.shelf.parts:
            self.propose(self.bench.with_part(message.key, message.text))

    def _card(self, message: Message) -> None:
        if message.text in self.shared.shelf.engines:
            self.open_bench(Bench(card=message.text))

    def _key(self, message: Message) -> None:
        if message.text:
            self.propose(self.bench.with_keys([(message.key, message.text)]), "key")
        else:
            left = tuple(p for p in self.bench.keys if p[0] != message.key)
            self.propose(Bench(self.bench.card, self.bench.text, self.bench.parts, left, self.bench.knobs), "key")

    def _speed(self, message: Message) -> None:
        try:
            rpm = float(message.text.replace("rpm", ""))
        except ValueError:
            rpm = self.rpm
        self.view = View(shown_speed(self.now.engine, rpm), self.view.shows)
        self._compute()
        self.show_all()

    def _shows(self, message: Message) -> None:
        if message.text in SHOWN:
            self.view = View(self.view.rpm, message.text)
            self.show_all()

    def _reset(self, message: Message) -> None:
        self.propose(Bench(self.bench.card, self.bench.text))

    def _rebase(self, message: Message) -> None:
        self.base = self.now
        self.show_all()

    def _save(self, message: Message) -> None:
        name, text = card_file(self.now.setup)
        self.wire.hand_out(name, text, "application/toml", f"{name} holds the whole engine.")

    def _report(self, message: Message) -> None:
        setup, speeds = self.now.setup, self.now.speeds
        points = dict(self.now.wave_points) if self.now.waves_complete else {}

        def work() -> None:
            try:
                name, text = report_file(setup, speeds, points)
            except PullcastError as error:
                told = f"No report: {error}"
                self.soon(lambda: self.wire.tell(told))
            else:
                self.soon(lambda: self.wire.hand_out(name, text, "text/html", f"{name} is one file, to be printed."))

        self.shared.threads.submit(work)

    def _look(self, message: Message) -> None:
        seen = seen_card(message.text, self.shared.shelf, self.now.setup.text)
        self.wire.card, self._draft = seen, seen["edited"]

    def _text(self, message: Message) -> None:
        self._use_text(message.text, "the card")

    def _open(self, message: Message) -> None:
        self._use_text(message.text, message.key)

    def _use_text(self, text: str, name: str) -> None:
        bench = Bench(text=text)
        try:
            set_up(bench, self.shared.shelf)
        except InputError as error:
            self._draft = True
            self.wire.card = seen_card(text, self.shared.shelf, self.now.setup.text, error, name)
            return
        self.open_bench(bench)

    # ---- what is on the bench
    @property
    def bench(self) -> Bench:
        """What is on the bench."""
        return self.history.now

    @property
    def rpm(self) -> float:
        """The speed of the cycle pictures, rpm."""
        return shown_speed(self.now.engine, self.view.rpm)

    def propose(self, bench: Bench, what: str = "", typed: str = "") -> bool:
        """Take a new bench if it makes an engine; else say at the field what is wrong and keep the engine."""
        try:
            setup = set_up(bench, self.shared.shelf)
        except InputError as error:
            before = self.now.setup
            self.fields, self.faults = faults(error, bench, before.own, before.data)
            self.typed = {what: typed} if typed else {}
            if what == "key":
                self.fields, self.faults = {"key": " ".join([*self.fields.values(), *self.faults])}, []
            elif what and what not in self.fields and not isinstance(error, BadKnob):
                self.fields[what], self.faults = " ".join([*self.faults, *self.fields.values()]), []
            self.show_knobs()
            return False
        self.history.push(bench, what)
        self._take(setup)
        return True

    def open_bench(self, bench: Bench) -> None:
        """Another card: it becomes the base too."""
        try:
            setup = set_up(bench, self.shared.shelf)
        except InputError as error:
            self.faults = str(error).splitlines()
            self.show_knobs()
            return
        self.history.push(bench)
        self.base, self._draft = Results(setup), False
        self._take(setup)

    def _go(self, bench: Bench) -> None:
        """A bench that was here before."""
        self._draft = False
        setup = set_up(bench, self.shared.shelf)
        if (bench.card, bench.text) != (self.base.setup.bench.card, self.base.setup.bench.text):
            self.base = Results(set_up(Bench(bench.card, bench.text), self.shared.shelf))
        self._take(setup)

    def _take(self, setup: Setup) -> None:
        self.fields, self.faults, self.typed = {}, [], {}
        self.now = self.base if setup.bench == self.base.setup.bench else Results(setup)
        self.show_knobs()
        self._compute()

    # ---- computing
    def _compute(self) -> None:
        """The newest lumped curve and cycle at once; the waves after a rest."""
        now, base, rpm = self.now, self.base, self.rpm
        self.shared.behind.cancel(self)

        def work() -> None:
            try:
                with self.shared.hush:
                    for results in (now,) if now is base else (now, base):
                        self._lumped(results, rpm)
            except PullcastError as error:
                told = str(error)
                self.soon(lambda: self._troubled(told))

        self._newest.put(work)
        self._stopped, self._done, self._total, self._jobs = False, 0, 0, []
        self.show_march()
        self._march_at_rest()

    def _march_at_rest(self) -> None:
        """Have the waves marched after a rest, once the page stands: before that it needs the machine itself."""
        self._moves += 1
        if not self._stands:
            return
        moves = self._moves  # a timer is not taken back: it may be about to ring
        self.doc.add_timeout_callback(lambda: self._march() if moves == self._moves else None, REST)

    def _lumped(self, results: Results, rpm: float) -> None:
        """In another thread: what the lumped model has not said yet."""
        curve = results.lumped or lumped_curve(results.engine, self.shared.behind.memory)

        def keep_curve() -> None:
            results.lumped = curve
            self.show_results()

        self.soon(keep_curve)
        if results.lumped_cycle is None or results.lumped_cycle.rpm != rpm:
            cycle = lumped_cycle(results.engine, rpm)

            def keep_cycle() -> None:
                results.lumped_cycle = cycle
                self.show_results()

            self.soon(keep_cycle)

    def _troubled(self, told: str) -> None:
        """An engine that the card allows and the model cannot build."""
        self.faults = told.splitlines()
        self.show_knobs()

    def _march(self) -> None:
        """Have the waves marched that are not known yet, now and of the base."""
        if self._closed:
            return
        self._moves += 1
        self._stopped = False
        owners: dict[int, Results] = {}
        jobs: list[Job] = []
        try:
            for results in (self.now,) if self.now is self.base else (self.now, self.base):
                for job in wave_jobs(results.engine, self.rpm):
                    owners[id(job)] = results
                    jobs.append(job)
        except PullcastError as error:
            self._troubled(str(error))
            return
        self._total, self._owners, self._jobs = len(jobs), owners, jobs  # jobs are held so that ids stay theirs
        self._done = 0
        self.shared.behind.run(self, jobs, lambda job, point: self.soon(lambda: self._landed(jobs, job, point)))
        self.show_march()

    def _landed(self, jobs: list[Job], job: Job, point) -> None:
        if jobs is not self._jobs:
            return  # of a run that is no longer wanted
        self._done += 1
        self._owners[id(job)].take(job, point)
        if self._done == self._total or job.traces:
            self.show_results()
        else:
            self.show_points()

    def _stop(self, message: Message) -> None:
        self.shared.behind.cancel(self)
        self._moves += 1
        self._stopped = True
        self.show_march()

    def soon(self, what: Callable[[], None]) -> None:
        """Do something on the page's thread."""
        if not self._closed:
            self.doc.add_next_tick_callback(lambda: None if self._closed else what())

    # ---- showing
    def show_all(self) -> None:
        """Everything anew."""
        self.show_knobs()
        self.show_results()
        self.lessons.show()

    def show_knobs(self) -> None:
        """The controls, the link, the card as text."""
        self.wire.knobs, self.wire.query = knob_view(self), self._query()
        if not self._draft:
            self.wire.card = seen_card("", self.shared.shelf, self.now.setup.text)

    def _query(self) -> str | None:
        query = address.encode(self.bench, View(self.view.rpm, self.view.shows))
        return query or None

    def show_march(self) -> None:
        """How far the waves have come."""
        self.wire.march = Drawing(self).march(self._done, self._total, self._stopped)

    def show_results(self) -> None:
        """Figures, words and tables, once for all points that have come in."""
        if not self._dirty:
            self._dirty = True
            self.doc.add_next_tick_callback(self._draw)

    def show_points(self) -> None:
        """The points of a run under way, some at a time."""
        if not self._pointed:
            self._pointed = True
            self.doc.add_timeout_callback(self._draw_points, FEW)

    def _draw(self) -> None:
        self._dirty = False
        if not self._closed:
            self.doc.hold()  # one message for all
            try:
                Drawing(self).draw()
            finally:
                self.doc.unhold()

    def _draw_points(self) -> None:
        self._pointed = False
        if not self._closed and not self._dirty:
            Drawing(self).draw_points()

    _done = _total = _moves = 0
    _owners: dict[int, Results] = {}  # noqa: RUF012
    _jobs: list[Job] = []  # noqa: RUF012

    def review(self, results: Results):
        """The review of an engine's card."""
        return check(results.engine)

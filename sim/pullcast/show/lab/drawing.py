"""One drawing of the page's results: which model's curve stands for now, and everything said beside it."""

from __future__ import annotations

from typing import Any

from pullcast.show.lab import tables, telling
from pullcast.show.lab.host import Host
from pullcast.show.lab.readings import Curve
from pullcast.show.lab.results import Results

BY = {"lumped": "by the lumped model, until the waves have come", "wave": "by the wave model"}


class Drawing:
    """Draws what a session knows. The waves stand for now and for the base once both are complete, before that the
    lumped model for both: the two are never held against each other."""

    def __init__(self, session: Host) -> None:
        self._s = session
        now, base = session.now, session.base
        self.waves = now.waves_complete and base.waves_complete
        self.model = "wave" if self.waves else "lumped"

    def _curve(self, results: Results) -> Curve | None:
        return results.waves if self.waves else results.lumped

    def draw(self) -> None:
        """Everything that follows from results."""
        s = self._s
        now, base = self._curve(s.now), self._curve(s.base)
        s.show_march()
        if now is None or base is None:
            s.wire.words = self._words(None, None)
            return
        points = s.now.waves if s.now.wave_points else None
        s.curves.show(s.view.shows, s.shared.units, now, base, s.now.lumped if self.waves else None, points, s.rpm)
        self._cycles()
        s.wire.words = self._words(now, base)
        s.wire.tables = self._tables(now, base)

    def draw_points(self) -> None:
        """Only the points of a run under way, and how far it is."""
        s = self._s
        s.show_march()
        if not self.waves:
            s.curves.show_points(s.view.shows, s.shared.units, s.now.waves)

    def _cycles(self) -> None:
        s = self._s
        cycle = s.now.cycle(s.rpm)
        if cycle is not None:
            base = None if s.now is s.base else s.base.cycle(s.rpm)
            same = base is not None and base.fidelity == cycle.fidelity
            s.cycles.show(cycle, base if same else None, s.now.engine.day.pressure)

    def _words(self, now: Curve | None, base: Curve | None) -> dict[str, Any]:
        from pullcast import __version__

        s, engine = self._s, self._s.now.engine
        cycle = s.now.cycle(s.rpm)
        changed = s.now is not s.base
        told = {"name": engine.name, "sentence": "The first curve is being computed.", "caption": "Full-load curve.",
                "key_now": "now", "key_base": "", "key_weak": "", "lifts": telling.events(engine, s.rpm), "waves": "",
                "cycle_by": "", "rpm": s.rpm, "first": engine.speeds[0], "last": engine.speeds[-1],
                "shows": s.view.shows, "version": f"pullcast {__version__}. {engine.source}"}
        if now is None or base is None:
            return told
        weak = s.now.lumped if self.waves else None
        named = "" if s.base.engine.name == engine.name else f" ({s.base.engine.name})"
        told |= {
            "sentence": telling.sentence(now, base, self.model, s.shared.units, changed),
            "caption": telling.caption(s.view.shows, self.model, self.waves, weak, now),
            "key_now": f"now, {self.model} model", "key_base": f"base{named}, {self.model} model",
            "key_weak": "now, lumped model" if self.waves else ""}
        if cycle is not None:
            told["cycle_by"] = f"cylinder {cycle.cylinder}, {BY[cycle.fidelity]}"
            told["waves"] = "" if cycle.along.size else "It waits for the wave model."
        return told

    def _tables(self, now: Curve, base: Curve) -> dict[str, Any]:
        s = self._s
        units, review, before = s.shared.units, s.review(s.now), s.review(s.base)
        return {
            "numbers": [tables.numbers(now, base, s.rpm, self.model, units).plain(),
                        tables.limits(s.now.engine, now, units).plain()],
            "derived": [tables.derived(review, before, units).plain()],
            "assumed": [tables.assumed(review, units).plain()],
            "assumed_head": f"What was assumed: {len(review.assumed)} values with their ranges",
            "findings": tables.findings(review, now.troubles)}

    def march(self, done: int, total: int, stopped: bool) -> dict[str, Any]:
        """How far the waves have come, in words."""
        running = total > 0 and done < total and not stopped
        text = ""
        if stopped:
            text = f"Stopped: {done} of {total} points of the wave model."
        elif running:
            text = f"The wave model marches: {done} of {total} points."
        elif total:
            text = "The wave model has come."
        return {"done": done, "total": total, "running": running, "stopped": stopped, "text": text}

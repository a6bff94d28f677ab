"""The last step of a comparison: what its forecasts are known by, and what is to be minded."""

from __future__ import annotations

from collections.abc import Mapping

from pullcast.answers import measured_parts as measured
from pullcast.answers.comparison import Comparison
from pullcast.answers.forecast import Forecast, moved
from pullcast.answers.session_engine import Setting
from pullcast.pulls.session import Session


def finish(session: Session, setting: Setting, band, scores, differences, rank, judged, given: Mapping[str, Forecast],
           digests, notes: tuple[str, ...]) -> Comparison:
    """The `Comparison` with what its forecasts are known by, and its notes."""
    seals = {(f.seal, f.sealed_utc) for f in given.values()}
    seal, sealed = seals.pop() if len(seals) == 1 else ("", "")
    said = [*setting.notes, *notes, *dict.fromkeys(n for f in given.values() if (n := moved(f.curve, setting)[1]))]
    refused = measured.absolute(session)
    if refused:
        said.append(refused)
    if not seal:
        said.append("not sealed before the pulls: this shows how far the model is off, not that it foretold them")
    versions = {str(f.curve.dataset.attrs["version"]) for f in given.values()}
    return Comparison(session, setting, band, session.rules.level, scores, differences, rank, judged, seal, sealed,
                      tuple((p, f.sha256) for p, f in given.items()), digests,
                      any(f.fitted for f in given.values()), ", ".join(sorted(versions)), tuple(said))

"""Reading a lift curve and a flow sheet: where lift stops paying, and when the valve closes."""

from __future__ import annotations

import numpy as np

from pullcast.card import bench, read_engine
from pullcast.network.lift import valve_lift
from pullcast.show.lessons.lesson import Lesson, LessonResult, Line, Panel, Progress
from pullcast.show.lessons.runs import percent, table

IN, CFM = 0.0254, 0.3048**3 / 60.0
AT_050 = 0.050 * IN
FROM, TO = 0.40, 0.60  # in, lifts of the sheet compared


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Flow gained over curtain gained, share of the opening spent high up; the answer is the closing at 0.050 in."""
    engine = read_engine(lesson.card)
    side, lobe = engine.head.intake, engine.cam.intake
    sheet = dict(zip((round(x / IN, 3) for x in side.flow.lifts), side.flow.flows, strict=True))
    coefficient = dict(zip(sheet, bench.curtain_coefficients(side), strict=True))
    flow, curtain = percent(sheet[TO], sheet[FROM]), percent(TO, FROM)
    lifts = {kind: valve_lift(getattr(engine.cam, kind), kind) for kind in ("intake", "exhaust")}
    intake = lifts["intake"]
    at_050 = next(d.duration_deg for d in lobe.durations if abs(d.lift - AT_050) < 2e-6)
    seat = next(d.duration_deg for d in lobe.durations if abs(d.lift - AT_050) >= 2e-6)
    closing = lobe.centreline_deg + at_050 / 2 - 180.0
    separation = (lobe.centreline_deg + engine.cam.exhaust.centreline_deg) / 2
    facts = {"from": FROM, "to": TO, "flow_from": sheet[FROM] / CFM, "flow_to": sheet[TO] / CFM, "flow": flow,
             "curtain": curtain, "cd_low": coefficient[0.1], "cd_high": coefficient[TO],
             "quarter": side.diameter / 4 / IN, "valve": side.diameter / IN, "max_lift": lobe.lift / IN,
             "open_deg": intake.open_deg, "above": intake.duration_at(FROM * IN),
             "share": 100 * intake.duration_at(FROM * IN) / intake.open_deg, "centreline": lobe.centreline_deg,
             "duration": at_050, "seat_duration": seat, "separation": separation,
             "by_seat": lobe.centreline_deg + seat / 2 - 180.0, "by_separation": separation + at_050 / 2 - 180.0,
             "opening": at_050 / 2 - lobe.centreline_deg, "from_top": lobe.centreline_deg + at_050 / 2}
    right = "a" if flow > 0.8 * curtain else "b" if flow > 0.0 else "c"
    rows = [[f"{x:.2f}", f"{q / CFM:.0f}", f"{coefficient[x]:.2f}"] for x, q in sheet.items()]
    return LessonResult(facts, (_lift_panel(lifts), _flow_panel(side, sheet)), right, closing,
                        table(["lift, in", "flow, cfm at 28 inH2O", "coefficient on the curtain"], rows))


def _lift_panel(lifts) -> Panel:
    lines = []
    for kind, curve in lifts.items():
        angle = np.where(curve.angle_deg >= 360.0, curve.angle_deg - 720.0, curve.angle_deg)[:-1]
        order = np.argsort(angle)[::8]
        lines.append(Line(kind, tuple(angle[order].tolist()), tuple((1e3 * curve.lift_m[:-1][order]).tolist())))
    return Panel("Valve lift", "crank angle from overlap top dead centre, deg", "valve lift, mm", tuple(lines))


def _flow_panel(side, sheet) -> Panel:
    lifts = tuple(sheet)
    per_area = bench.ideal_velocity(side.flow.depression, side.flow.temperature, side.flow.pressure)
    ideal = tuple(per_area * bench.curtain_area(side, x * IN) / CFM for x in lifts)
    return Panel("Flow sheet, intake", "valve lift, in", "flow, cfm", (
        Line("measured", lifts, tuple(q / CFM for q in sheet.values()), points=True),
        Line("if the whole curtain flowed without loss", lifts, ideal)))

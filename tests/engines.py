"""Small engines built in code, for tests that must not depend on cards. All invented."""

import math

from pullcast.card.engine import (
    Block,
    Burn,
    Cam,
    Day,
    Duration,
    End,
    Engine,
    Friction,
    Fuel,
    Head,
    Junction,
    Limits,
    Lobe,
    Mixture,
    Pipe,
    Segment,
    Tract,
    ValveSide,
    Volume,
    Walls,
)


def disc(d):
    return math.pi / 4 * d * d


def single(**changes):
    """A 0.5 L two-valve single with a short plain intake and exhaust."""
    block = Block(1, 0.086, 0.086, 0.143, 9.0, (1,), (720.0,), ((1,),), "single")
    port_in = (Segment(0.08, disc(0.036), disc(0.038), 340.0, 2e-5),)
    port_ex = (Segment(0.07, disc(0.032), disc(0.034), 480.0, 2e-5, 0.1, 1.5),)
    head = Head("h", ValveSide(1, 0.042, 0.037, 0.007, 45.0, port_in),
                ValveSide(1, 0.036, 0.032, 0.007, 45.0, port_ex))
    cam = Cam("c", Lobe(0.0095, (Duration(1.5e-4, 256.0), Duration(1.27e-3, 212.0)), 108.0, 1.4),
              Lobe(0.0095, (Duration(1.5e-4, 256.0), Duration(1.27e-3, 212.0)), 110.0, 1.4))
    intake = Tract("i", (Pipe("inlet", End("ambient", loss_in=0.1, end_length=0.01), End("port 1"),
                              (Segment(0.2, disc(0.04), disc(0.038), 310.0, 2e-5),)),))
    exhaust = Tract("e", (Pipe("outlet", End("port 1"), End("ambient", end_length=0.01),
                               (Segment(0.6, disc(0.036), disc(0.036), 600.0, 4e-5, 0.2, 1.5),)),))
    values = dict(  # noqa: C408
        name="single", engine_class="lab_single", block=block, head=head, cam=cam, intake=intake, exhaust=exhaust,
        fuel=Fuel("petrol", 95.0), mixture=Mixture(0.9), day=Day(100000.0, 298.15, 0.3),
        burn=Burn("ca50", ((500.0, 8.0), (8000.0, 8.0)), 24.0, 18.0), walls=Walls(480.0, 450.0, 420.0),
        friction=Friction(), limits=Limits(6000.0), speeds=(2000.0, 4000.0), source="invented",
    )
    return Engine(**(values | changes))


def twin(**changes):
    """A 1 L parallel twin, 360 deg crank, plenum and throttle, two into one exhaust."""
    block = Block(2, 0.086, 0.086, 0.143, 10.0, (1, 2), (360.0, 360.0), ((1, 2),), "inline")
    intake = Tract("i", (
        *(Pipe(f"runner {k}", End("plenum", loss_in=0.1), End(f"port {k}"),
               (Segment(0.18, disc(0.04), disc(0.038), 310.0, 2e-5),)) for k in (1, 2)),
        Pipe("throttle", End("ambient", loss_in=0.1), End("plenum", area=disc(0.046) * 0.8),
             (Segment(0.06, disc(0.046), disc(0.046)),)),
    ), (Volume("plenum", 1.5e-3),))
    exhaust = Tract("e", (
        *(Pipe(f"primary {k}", End(f"port {k}"), End("merge", angle_deg=180.0 + s),
               (Segment(0.5, disc(0.036), disc(0.036), 650.0, 4e-5, 0.2, 1.5),)) for k, s in ((1, 10.0), (2, -10.0))),
        Pipe("tail", End("merge", angle_deg=0.0), End("ambient"), (Segment(0.5, disc(0.048), disc(0.048), 550.0),)),
    ), (), (Junction("merge"),))
    values = {"name": "twin", "engine_class": "twin", "block": block, "intake": intake, "exhaust": exhaust}
    return single(**(values | changes))

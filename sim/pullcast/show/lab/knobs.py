"""All controls of the page, in the order in which they stand on it."""

from __future__ import annotations

from pullcast.show.lab.cam_knobs import CAM
from pullcast.show.lab.knob import Knob
from pullcast.show.lab.running_knobs import RUNNING
from pullcast.show.lab.tract_knobs import TRACTS

KNOBS: dict[str, Knob] = {knob.key: knob for knob in (*CAM, *TRACTS, *RUNNING)}

"""Citation records: the works that functions and checks name, each with how far it was read.

>>> print(cite("woschni_1967"))
Woschni 1967, SAE 670931 (from memory)
"""

from __future__ import annotations

from dataclasses import dataclass

from pullcast.errors import InputError


@dataclass(frozen=True)
class Source:
    """A published work. ``read``: False if its contents are quoted from memory."""

    key: str
    author: str
    year: int
    work: str
    read: bool = False

    def __str__(self) -> str:
        """``Author year, work (from memory)``."""
        return f"{self.author} {self.year}, {self.work}" + ("" if self.read else " (from memory)")


SOURCES = {
    s.key: s
    for s in (
        Source("chen_flynn_1965", "Chen & Flynn", 1965, "SAE 650733"),
        Source("crane_tp410", "Crane Co.", 2009, "Flow of Fluids, Technical Paper 410"),
        Source("engelman_1973", "Engelman", 1973, "ASME 73-WA/DGP-2"),
        Source("harrington_bolt_1970", "Harrington & Bolt", 1970, "SAE 700082"),
        Source("heywood_1988", "Heywood", 1988, "Internal Combustion Engine Fundamentals, McGraw-Hill"),
        Source("hohenberg_1979", "Hohenberg", 1979, "SAE 790825"),
        Source("idelchik_1986", "Idelchik", 1986, "Handbook of Hydraulic Resistance, 2nd ed., Hemisphere"),
        Source("levine_schwinger_1948", "Levine & Schwinger", 1948, "Phys. Rev. 73:383"),
        Source("livengood_1947", "Eppes, Livengood & Taylor", 1947, "NACA TN 1365"),
        Source("nist_sp811", "Thompson & Taylor", 2008, "NIST Special Publication 811, app. B"),
        Source("rayleigh_1877", "Rayleigh", 1877, "The Theory of Sound, vol. 2"),
        Source("sae_j1349_1990", "SAE", 1990, "J1349 (JUN90)"),
        Source("taylor_1985", "Taylor", 1985, "The Internal Combustion Engine in Theory and Practice, 2nd ed., MIT "
               "Press"),
        Source("woschni_1967", "Woschni", 1967, "SAE 670931"),
    )
}


def cite(key: str) -> Source:
    """The record of ``key``; InputError naming the known keys if there is none."""
    if key not in SOURCES:
        msg = f"no source {key!r}. Known: {', '.join(SOURCES)}"
        raise InputError(msg)
    return SOURCES[key]

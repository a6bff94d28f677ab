import pytest

from pullcast.card import read_engine, with_changes
from pullcast.errors import CardError, InputError

ENGINES = ("hillclimb_v8", "club_four", "touring_six", "rally_v6", "vintage_twin", "lab_single")
PIECES = ("block", "head", "cam", "intake", "exhaust", "fuel", "mixture", "day", "burn", "walls", "friction",
          "limits")
# a throttle plate behind its own shaft lets the same air pass
NO_EFFECT = {"intake.throttle.closed_angle", "intake.throttle.opening"}


@pytest.fixture
def v8(configs):
    return configs / "engines" / "hillclimb_v8.toml"


def test_part_swap_changes_only_the_part(v8):
    before, after = read_engine(v8), with_changes(v8, {"intake": "intakes/v8_dual_plane.toml"})
    assert after.intake.name == "V8 dual plane, long runners"
    assert (after.exhaust, after.cam, after.head) == (before.exhaust, before.cam, before.head)


def test_advance_turns_both_lobes_about_the_separation(v8):
    base = read_engine(v8).cam
    cam = with_changes(v8, {"cam.advance": "0 deg"}).cam
    assert (base.intake.centreline_deg, base.exhaust.centreline_deg) == (107.0, 115.0)
    assert (cam.intake.centreline_deg, cam.exhaust.centreline_deg) == (111.0, 111.0)


def test_installed_advance_turns_from_the_card(v8):
    cam = with_changes(v8, {"cam.installed_advance": "2 deg"}).cam
    assert (cam.intake.centreline_deg, cam.exhaust.centreline_deg) == (105.0, 117.0)


def test_advance_when_the_card_gives_centrelines_only(configs):
    cam = with_changes(configs / "engines" / "rally_v6.toml", {"cam.advance": "3 deg"}).cam
    assert (cam.intake.centreline_deg, cam.exhaust.centreline_deg) == (107.0, 113.0)


def test_change_takes_the_place_of_its_rivals(v8):
    assert with_changes(v8, {"burn.ca50": "9 deg"}).burn.table[0][1] == 9.0
    swaps = {"intake": "intakes/v8_dual_plane.toml", "intake.runner.length": "200 mm"}
    assert {round(p.length, 4) for p in with_changes(v8, swaps).intake.pipes if "runner" in p.name} == {0.2}
    assert with_changes(v8, {"exhaust.primary.id": "45 mm"}).exhaust.facts["primary_id"] == pytest.approx(0.045)


def test_change_after_a_part_swap_is_applied_to_the_new_part(v8):
    engine = with_changes(v8, {"cam.intake.rocker_ratio": 1.6, "cam": "cams/v8_warm.toml"})
    assert engine.cam.name == "V8 warm hydraulic roller"
    assert engine.cam.intake.lift == pytest.approx(0.350 * 0.0254 * 1.6)


@pytest.mark.parametrize("name", ENGINES)
def test_every_assumed_value_can_be_changed_within_its_range(configs, name):
    path = configs / "engines" / f"{name}.toml"
    base = read_engine(path)
    for a in base.assumed:
        end = a.low if a.low != a.value else a.high
        engine = with_changes(path, {a.key: f"{end!r} {a.unit}".strip()})
        moved = any(getattr(engine, p) != getattr(base, p) for p in PIECES)
        assert moved or end == a.value or a.key in NO_EFFECT, a.key


def test_file_is_not_written(v8):
    before = v8.read_bytes()
    with_changes(v8, {"block.compression_ratio": 11.0})
    assert v8.read_bytes() == before


@pytest.mark.parametrize(("swaps", "words"), [
    ({"intake": "intakes/none.toml"}, 'change: parts.intake: "intakes/none.toml": no such file'),
    ({"cam.advance": "4 mm"}, 'change: cam.advance: "4 mm" is a length; an angle fits'),
    ({"cam.advanse": "4 deg"}, "change: cam.advanse: this key is not known. Did you mean advance"),
    ({"intake.plenum.volume": "0 L"}, 'change: intake.plenum.volume: "0 L" is outside what can be'),
    ({"exhaust.style": "5-1"}, "a 5-1 header does not fit 8 cylinders"),
])
def test_fault_of_a_change(v8, swaps, words):
    with pytest.raises(CardError) as e:
        with_changes(v8, swaps)
    assert words in str(e.value)


def test_path_that_leads_nowhere(v8):
    with pytest.raises(InputError, match=r"cam.intake.lash is not a table; name a key, as cam.advance"):
        with_changes(v8, {"cam.intake.lash.x": "1 mm"})

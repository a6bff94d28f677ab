"""A card's references stay in its project, links followed, unless a folder outside is allowed by name."""

import shutil
from pathlib import Path

import pytest

from pullcast.card import read_engine
from pullcast.card.shortlist import read_shortlist
from pullcast.errors import CardError, InputError
from pullcast.pulls.session_card import read_session

CONFIGS = Path(__file__).parents[2] / "configs"
REFUSED = [("/etc/passwd", "an absolute path is refused"), ("../../../../../etc/passwd", "leaves the card's project"),
           ("C:\\cams\\x.toml", "absolute path"), ("\\\\server\\x.toml", "absolute path"),
           ("~/x.toml", "absolute path"),
           ("cams/../../outside/four_club.toml", "leaves the card's project"),
            ("x\\u0000.toml", "control character 0x00"),
           ("n" * 400 + ".toml", "cannot be read|looked up|no such file")]


@pytest.fixture
def project(tmp_path, monkeypatch):
    monkeypatch.delenv("PULLCAST_PARTS", raising=False)
    shutil.copytree(CONFIGS, tmp_path / "project")
    (tmp_path / "outside").mkdir()
    shutil.copy(CONFIGS / "cams/four_club.toml", tmp_path / "outside")
    return tmp_path


def refer(project, reference):
    card = project / "project/engines/club_four.toml"
    card.write_text(card.read_text().replace("cams/four_club.toml", reference))
    return card


@pytest.mark.parametrize(("reference", "words"), REFUSED)
def test_what_leaves_the_project_is_refused(project, reference, words):
    with pytest.raises(CardError, match=words):
        read_engine(refer(project, reference.replace("\\", "\\\\") if "u0000" not in reference else reference))


def test_a_link_out_of_the_project_is_refused(project):
    (project / "project/cams/link.toml").symlink_to(project / "outside/four_club.toml")
    with pytest.raises(CardError, match=r"leaves the card's project folder.*PULLCAST_PARTS"):
        read_engine(refer(project, "cams/link.toml"))


def test_links_in_a_ring_are_refused(project):
    (project / "project/cams/a.toml").symlink_to(project / "project/cams/b.toml")
    (project / "project/cams/b.toml").symlink_to(project / "project/cams/a.toml")
    with pytest.raises(CardError, match=r"looked up|no such file"):
        read_engine(refer(project, "cams/a.toml"))


@pytest.mark.parametrize("how", ["{}/outside/four_club.toml", "../outside/four_club.toml"])
def test_a_folder_that_is_allowed_may_be_used(project, monkeypatch, how):
    monkeypatch.setenv("PULLCAST_PARTS", str(project / "outside"))
    assert read_engine(refer(project, how.format(project))).cam.name == "Four, club cams"


def test_allowing_one_folder_allows_no_other(project, monkeypatch):
    (project / "other").mkdir()
    shutil.copy(CONFIGS / "cams/four_club.toml", project / "other")
    monkeypatch.setenv("PULLCAST_PARTS", str(project / "outside"))
    with pytest.raises(CardError, match="leaves the card's project"):
        read_engine(refer(project, f"{project}/other/four_club.toml"))


def test_a_shortlist_and_a_session_keep_to_their_project_too(project):
    listed = project / "project/shortlists/hillclimb_shelf.toml"
    listed.write_text(listed.read_text().replace("intakes/v8_dual_plane.toml", "../../outside/four_club.toml"))
    with pytest.raises(InputError, match=r"leaves the card's project|no such file"):
        read_shortlist(listed)
    day = project / "project/sessions/intake_day.toml"
    day.write_text(day.read_text().replace("pulls/intake_day_01.csv", "/etc/passwd"))
    with pytest.raises(InputError, match="does not lie beside the card"):
        read_session(day)

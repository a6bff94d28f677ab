import pytest

from pullcast.errors import CardError, InputError
from pullcast.show.lab.bench import Bench, set_up
from pullcast.show.lab.shelf import Shelf, shelf_of

CARD = 'name = "{}"\nclass = "twin"\n'


def test_without_a_folder_there_are_starters():
    shelf = Shelf()
    assert shelf.first.startswith("starter/")
    assert set_up(Bench(shelf.first), shelf).engine.block.cylinders >= 1
    assert shelf.parts["cam"] == {}


def test_the_folder_beside_or_around_is_found(tmp_path):
    (tmp_path / "configs/engines").mkdir(parents=True)
    (tmp_path / "configs/engines/a.toml").write_text(CARD.format("A"))
    assert shelf_of(None, tmp_path).engines["engines/a.toml"] == "A"
    assert shelf_of(None, tmp_path / "configs").folder == tmp_path / "configs"


def test_where_there_is_no_project_the_cards_of_the_lessons_are_on_the_shelf(tmp_path):
    assert "Aldermoor teaching single" in shelf_of(None, tmp_path).engines.values()


def test_an_opened_card_comes_first_wherever_it_lies(tmp_path, shelf):
    path = tmp_path / "mine.toml"
    path.write_text(CARD.format("Mine"))
    mine = shelf_of(path)
    assert (mine.first, mine.engines["mine.toml"]) == ("mine.toml", "Mine")
    assert shelf_of(shelf.folder / "engines/rally_v6.toml").first == "engines/rally_v6.toml"


def test_a_card_that_is_not_there_is_told(tmp_path):
    with pytest.raises(CardError, match="no such file"):
        shelf_of(tmp_path / "none.toml")


def test_a_link_out_of_the_folder_is_not_on_the_shelf(tmp_path):
    (tmp_path / "p/cams").mkdir(parents=True)
    (tmp_path / "p/engines").mkdir()
    (tmp_path / "outside.toml").write_text("secret = 1")
    (tmp_path / "p/cams/out.toml").symlink_to(tmp_path / "outside.toml")
    assert Shelf(tmp_path / "p").parts["cam"] == {}


def test_a_card_of_no_sense_is_listed_by_its_file_name(tmp_path):
    (tmp_path / "engines").mkdir()
    (tmp_path / "engines/odd_one.toml").write_text("not toml")
    assert Shelf(tmp_path).engines["engines/odd_one.toml"] == "odd one"
    with pytest.raises(InputError):
        set_up(Bench("engines/odd_one.toml"), Shelf(tmp_path))


def test_a_card_as_long_as_a_book_is_refused(shelf):
    with pytest.raises(CardError, match="more than 1000000 bytes"):
        shelf.tree_of_text("#" * 1_000_001, "x")

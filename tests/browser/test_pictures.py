"""The pictures of the live page in the gallery: the script that takes them."""

import runpy
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[2] / "examples" / "make_live_pictures.py"


@pytest.mark.long
def test_every_view_is_photographed(tmp_path):
    pytest.importorskip("selenium", reason="selenium is not installed")
    from PIL import Image

    script = runpy.run_path(str(SCRIPT))
    files = script["make"](tmp_path)
    assert [f.stem for f in files] == list(script["VIEWS"])
    for file, (width, height, *_) in zip(files, script["VIEWS"].values(), strict=True):
        with Image.open(file) as picture:
            assert picture.size == (width, height)
            assert len(picture.convert("RGB").getcolors(100_000)) > 20  # something is drawn
        assert file.stat().st_size < 150_000

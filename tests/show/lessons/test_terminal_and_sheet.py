"""A lesson on the terminal, its picture, and the teacher's sheet."""

import builtins
import subprocess
import sys

from pullcast.show.lessons import lesson_named
from pullcast.show.lessons.__main__ import main
from pullcast.show.lessons.figure import lesson_figure
from pullcast.show.lessons.sheet import teachers_sheet
from pullcast.show.lessons.terminal import take


def test_both_answers_at_once(capsys, tmp_path):
    picture = tmp_path / "reading.png"
    assert take("reading", ["--answers", "b, 35 deg", "--out", str(picture)]) == 0
    out = capsys.readouterr().out
    assert out.index("Your prediction: b") < out.index("It came so.") < out.index("QUESTION") < out.index("Right: 35")
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_wrong_answer_gets_a_hint_not_the_answer(capsys):
    assert take("reading", ["--answers", "a,61"]) == 4
    out = capsys.readouterr().out
    assert "It came otherwise." in out
    assert "counted at 0.006 in" in out
    assert "35" not in out


def test_decimal_comma_in_the_last_answer(capsys):
    assert take("noise", ["--answers", "b,-0,12"]) == 0


def test_unreadable_prediction(capsys):
    assert take("reading", ["--answers", "maybe"]) == 2
    assert "'maybe' is none of the choices: answer a, b, c" in capsys.readouterr().err


def test_asks_again(monkeypatch, capsys):
    given = iter(["x", "b", "39", "35"])
    monkeypatch.setattr(builtins, "input", lambda prompt: next(given))
    assert take("reading", []) == 0
    out = capsys.readouterr().out
    assert "'x' is none of the choices" in out
    assert "That starts from the separation" in out


def test_nobody_there(monkeypatch, capsys):
    def gone(prompt):
        raise EOFError

    monkeypatch.setattr(builtins, "input", gone)
    assert take("reading", []) == 2
    assert 'give --answers "b,35"' in capsys.readouterr().err


def test_bad_picture_name(capsys, tmp_path):
    assert take("reading", ["--answers", "b,35", "--out", str(tmp_path / "x.gif")]) == 2
    assert "is saved as .png, .svg, .pdf" in capsys.readouterr().err


def test_figure_has_every_line():
    lesson = lesson_named("reading")
    result = lesson.run()
    figure = lesson_figure(lesson, result)
    for ax, panel in zip(figure.axes, result.panels, strict=True):
        assert [line.get_label() for line in ax.get_lines()] == [line.label for line in panel.lines]
        assert ax.get_xlabel() == panel.x_label


def test_sheet():
    text = teachers_sheet([lesson_named("reading"), lesson_named("noise")])
    assert text.startswith("<!doctype html>")
    assert text.count("<section>") == 2
    assert "Question: 35 deg (within 1.0)" in text
    assert "61 deg: That is the closing counted at 0.006 in" in text
    assert "A planning estimate" in text
    assert "<script" not in text
    assert "src=" not in text
    assert text == teachers_sheet([lesson_named("reading"), lesson_named("noise")])


def test_list_and_refusals(capsys, tmp_path):
    assert main([]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 11
    assert main(["--out", str(tmp_path / "sheet.pdf")]) == 2
    assert "is written as .html" in capsys.readouterr().err


def test_reading_the_lessons_is_light():
    """The live page lists lessons before it draws anything."""
    code = ("import sys; from pullcast.show.lessons import all_lessons; all_lessons();"
            "print(sorted({'matplotlib', 'xarray', 'cantera'} & set(sys.modules)))")
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_a_lesson_is_taken_by_its_name_from_anywhere(capsys, monkeypatch, tmp_path):
    from pullcast.show.lessons.__main__ import main

    monkeypatch.chdir(tmp_path)
    assert main(["noise", "--answers", "z"]) == 2
    assert "none of the choices" in capsys.readouterr().err
    assert main(["nois"]) == 2
    assert "no lesson is called 'nois': there are noise" in capsys.readouterr().err

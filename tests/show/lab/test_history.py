from pullcast.show.lab.bench import Bench
from pullcast.show.lab.history import History

A = Bench("a")


class Clock:
    now = 0.0

    def __call__(self):
        return self.now


def test_undo_and_redo_walk_through_what_was():
    h = History(A)
    for text in ("1", "2"):
        h.push(A.with_knob("spark", text))
    assert h.undo() == A.with_knob("spark", "1")
    assert h.undo() == A
    assert not h.can_undo
    assert h.undo() == A
    assert h.redo() == A.with_knob("spark", "1")
    h.push(A.with_knob("lambda", ".9"))
    assert not h.can_redo


def test_quick_moves_of_one_control_are_one_step():
    clock = Clock()
    h = History(A, clock)
    for text in "12345":
        clock.now += 0.1
        h.push(A.with_knob("spark", text), "spark")
    clock.now += 0.1
    h.push(A.with_knob("spark", "5").with_knob("lambda", "0.9"), "lambda")
    assert h.undo() == A.with_knob("spark", "5")
    assert h.undo() == A


def test_a_pause_parts_two_steps_and_nothing_new_is_no_step():
    clock = Clock()
    h = History(A, clock)
    h.push(A.with_knob("spark", "1"), "spark")
    h.push(A.with_knob("spark", "1"), "spark")
    clock.now += 5
    h.push(A.with_knob("spark", "2"), "spark")
    assert h.undo() == A.with_knob("spark", "1")


def test_it_does_not_grow_without_end():
    h = History(A)
    for k in range(1000):
        h.push(A.with_knob("spark", str(k)))
    steps = 0
    while h.can_undo:
        h.undo()
        steps += 1
    assert steps == 200


def test_long_cards_are_remembered_as_far_as_memory_allows():
    history = History(Bench(text="0"))
    for k in range(9):
        history.push(Bench(text=str(k) * 900_000))
        for key in ("a", "b"):
            history.push(history.now.with_keys([(key, "1")]))  # shares the text
    steps = 0
    while history.can_undo:
        history.undo()
        steps += 1
    assert steps == 4 * 3 - 1  # four texts fit, three benches have each, one of them is now

from pullcast.show.lab.hush import LONGEST, Hush


class Room:
    """Workers and a clock in the hand of the test."""

    def __init__(self):
        self.now, self.told = 0.0, []
        self.hush = Hush(lambda: self.told.append("halt"), lambda: self.told.append("wake"), lambda: self.now)


def test_workers_are_halted_while_anybody_is_inside():
    room = Room()
    with room.hush:
        room.now += 0.1
        with room.hush:
            assert room.told == ["halt"]
        assert room.told == ["halt"]
    assert room.told == ["halt", "wake"]


def test_they_are_woken_after_an_error_too():
    room = Room()
    try:
        with room.hush:
            raise ValueError
    except ValueError:
        pass
    assert room.told == ["halt", "wake"]


def test_many_pages_in_turn_do_not_halt_them_for_good():
    room, halted, since = Room(), 0.0, None
    inside = []
    for _ in range(400):  # at every moment somebody is inside
        inside.append(room.hush.__enter__())
        room.now += 0.1
        if len(inside) > 1:
            inside.pop(0).__exit__()
        since = since if room.told[-1] == "halt" else None
        halted += 0.1 * (room.told[-1] == "halt")
    assert room.told.count("halt") > 5
    assert 0.2 < halted / room.now < 0.7
    for a, b in zip(room.told, room.told[1:], strict=False):
        assert a != b


def test_kept_waiting_for_long_they_may_run_as_long_before_the_next_time():
    room = Room()
    with room.hush:
        room.now += 3 * LONGEST
    with room.hush:
        room.now += LONGEST
    assert room.told == ["halt", "wake"]
    room.now += 3 * LONGEST
    with room.hush:
        assert room.told == ["halt", "wake", "halt"]

from pullcast.show.lab.door import Door


class Page:
    """A page that notes what it is told."""

    def __init__(self, heard=0.0):
        self.heard, self.there, self.told = heard, False, []

    def watched(self):
        return self.there

    def rest(self):
        self.told.append("rest")

    def go_on(self):
        self.told.append("go on")

    def put_away(self):
        self.told.append("put away")


def test_it_is_full_at_its_number_and_free_again():
    door, pages = Door(most=3), [Page() for _ in range(3)]
    for page in pages:
        assert not door.full
        door.enter(page)
    assert door.full
    door.leave(pages[1])
    door.leave(pages[1])
    assert not door.full


def test_a_page_rests_while_its_browser_is_gone():
    door, page = Door(clock=lambda: 0.0), Page()
    door.enter(page)
    door.look()  # its browser has not come yet
    assert page.told == []
    for there in (True, True, False, False, True):
        page.there = there
        door.look()
    assert page.told == ["rest", "go on"]


def test_a_page_that_is_still_too_long_is_put_away():
    now = [0.0]
    door, page, busy = Door(still=100.0, clock=lambda: now[0]), Page(), Page()
    for p in (page, busy):
        p.there = True
        door.enter(p)
    now[0] = busy.heard = 99.0
    door.look()
    assert page.told == []
    now[0] = 101.0
    door.look()
    assert (page.told, busy.told) == (["put away"], [])

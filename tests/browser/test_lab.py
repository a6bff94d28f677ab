"""The live page in a real browser: what a visitor does, and what nobody may do to it."""

import asyncio
import math
import re
from urllib.parse import urlsplit

import pytest

from pullcast.card import read_engine

# the browser's log of requests begins with the session, so the first test reads all of it


def test_it_opens_with_a_curve_from_this_machine_alone(browser):
    browser.open()
    assert browser.text("engine-name") == "Aldermoor teaching single"
    state = browser.state()
    assert all(math.isfinite(v) for v in state["now"])
    assert len(state["rpm"]) == len(state["now"]) == 12
    hosts = {urlsplit(url).netloc for url in browser.requests() if not url.startswith(("data:", "blob:"))}
    assert hosts == {urlsplit(browser.site).netloc}
    assert browser.complaints() == []


def test_a_slider_moved_by_keyboard_moves_the_curve_and_the_base_stays(browser):
    from selenium.webdriver.common.keys import Keys

    browser.open()
    before = browser.waves()
    browser.the("knob-spark-slider").send_keys(Keys.PAGE_DOWN)
    browser.reaches(lambda s: s["lumped"] != before["lumped"])
    after = browser.waves(lambda s: "Against the base" in s["sentence"])
    assert after["now"] != before["now"]
    assert after["base"] == before["base"]
    assert "spark=" in after["query"]


def test_the_waves_arrive_and_change_with_the_newest_position(browser):
    browser.open()
    at_rest = browser.waves(lambda s: s["along"])["now"]
    for text in ("18", "20", "22"):
        browser.paste("knob-spark", text)
    state = browser.waves(lambda s: "spark=22" in s["query"] and s["now"] != at_rest)
    assert max(map(abs, state["diff"])) > 0
    lost = [a - b for a, b in zip(state["now"], at_rest, strict=True)]
    assert state["diff"] == pytest.approx(lost, abs=1e-6)


def test_a_saved_card_opened_again_gives_the_same_curve(browser, downloads):
    browser.open("?card=engines/lab_single.toml&runner_length=260&lambda=0.9")
    curve = browser.lumped()
    browser.click("save")
    path = browser.until(lambda: next((p for p in downloads.glob("*.toml") if p.stat().st_size), None))
    engine = read_engine(path)
    assert (engine.mixture.lambda_, path.name) == (0.9, "aldermoor_teaching_single.toml")
    browser.open()
    assert browser.lumped() != curve
    browser.upload(path)
    browser.until(lambda: browser.lumped() == curve)


def test_a_bad_value_is_said_at_its_field_and_the_engine_stays(browser):
    browser.open()
    curve = browser.lumped()
    for text, says in (("twenty", "does not start with a number"), ("500", "outside what can be"),
                       ("12 mm", "is a length")):
        browser.paste("knob-spark", text)
        browser.until(lambda says=says: says in browser.text("fault-spark"))
        assert browser.the("knob-spark").get_attribute("aria-invalid") == "true"
        assert browser.the("knob-spark").get_attribute("value") == text
    assert browser.lumped() == curve
    browser.type("knob-spark", "24")
    browser.until(lambda: browser.text("fault-spark") == "" and browser.lumped() != curve)


def test_an_unknown_key_is_said_at_its_field(browser):
    browser.open()
    browser.type("key-path", "cam.advanse")
    browser.type("key-value", "2 deg")
    browser.click("key-set")
    browser.until(lambda: "Did you mean advance" in browser.text("key-fault"))
    browser.type("key-path", "cam.intake.lash")
    browser.type("key-value", "0.3 mm")
    browser.click("key-set")
    browser.until(lambda: "cam.intake.lash = 0.3 mm" in browser.text("key-set-list"))


def test_a_contradiction_is_told_while_the_card_is_typed(browser):
    browser.open()
    browser.click("card-box")
    text = browser.the("card-text").get_attribute("value")
    browser.paste("card-text", text.replace('lobe_separation = "108 deg"', 'lobe_separation = "108 degrees of"'))
    browser.until(lambda: "line " in browser.text("card-faults") and "lobe_separation" in browser.text("card-faults"))
    assert not browser.the("card-use").is_enabled()
    browser.paste("card-text", text.replace("[cam.intake]", '[cam.intake]\ncentreline = "95 deg"'))
    browser.until(lambda: "It reads, but" in browser.text("card-told"))
    browser.click("card-use")
    browser.until(lambda: "contradiction" in browser.text("findings"))


def test_undo_redo_and_a_link_that_leads_back(browser):
    browser.open()
    start = browser.lumped()
    browser.paste("knob-lambda", "1.05")
    lean = browser.reaches(lambda s: "lambda=1.05" in s["query"] and s["lumped"] != start)
    browser.click("undo")
    browser.reaches(lambda s: "lambda" not in s["query"] and s["lumped"] == start)
    browser.click("redo")
    browser.reaches(lambda s: s["query"] == lean["query"] and s["lumped"] == lean["lumped"])
    browser.open(lean["query"])
    browser.reaches(lambda s: s["lumped"] == lean["lumped"])
    browser.until(lambda: browser.the("knob-lambda").get_attribute("value") == "1.050")


def test_a_lesson_from_prediction_to_a_right_answer(browser):
    from pullcast.show.lessons import lesson_named

    lesson = lesson_named("filling")
    result = lesson.run()
    browser.open()
    browser.click("lessons")
    browser.until(lambda: browser.js("return !!document.getElementById('open-filling')"))
    browser.click("open-filling")
    browser.until(lambda: browser.js("return !!document.querySelector('input[name=guess]')"))
    browser.click("lesson-run")
    browser.until(lambda: "First choose" in browser.text("lesson"))
    browser.js("document.querySelector(`input[name=guess][value=${arguments[0]}]`).click()", result.right)
    browser.click("lesson-run")
    browser.until(lambda: browser.js("return !!document.getElementById('answer-box')"))
    assert lesson.explain(result).split("\n\n")[0] in browser.text("lesson")
    browser.type("answer-box", "1")
    browser.click("lesson-answer")
    browser.until(lambda: browser.js("return !!document.querySelector('#verdict.wrong')"))
    browser.type("answer-box", f"{lesson.question(result).answer:.2f}")
    browser.click("lesson-answer")
    browser.until(lambda: browser.js("return !!document.querySelector('#verdict.right')"))
    browser.click("lesson-list")
    browser.until(lambda: "min, done" in browser.text("lesson"))


def test_hostile_files_are_refused_or_shown_as_plain_text(browser, tmp_path):
    browser.open()
    browser.click("card-box")
    curve = browser.lumped()
    huge, binary = tmp_path / "huge.toml", tmp_path / "binary.toml"
    with huge.open("wb") as f:
        f.truncate(100_000_000)
    binary.write_bytes(b"\x89PNG\xff\xfe\x00")
    for path, says in ((huge, "more than a card may have"), (binary, "not UTF-8 text")):
        browser.upload(path)
        browser.until(lambda says=says: says in browser.text("card-told"))
    away = tmp_path / "away.toml"
    away.write_text('name = "x"\nclass = "twin"\n[parts]\ncam = "../../../etc/passwd"\n')
    browser.upload(away)
    browser.until(lambda: "not on the shelf" in browser.text("card-faults"))
    assert browser.lumped() == curve
    script = tmp_path / "script.toml"
    name = "<img src=x onerror=document.title=1><script>document.title=2</script>"
    script.write_text(f"name = '{name}'\nclass = 'lab_single'\n[block]\nlayout = 'single'\ncylinders = 1\n"
                      "bore = '85 mm'\nstroke = '90 mm'\ncompression_ratio = 7.6\n")
    browser.upload(script)
    browser.until(lambda: browser.text("engine-name") == name)
    assert browser.js("return document.querySelectorAll('h1 *, #sentence *, #lesson img, img').length") == 0
    assert browser.driver.title == f"{name} · pullcast"


@pytest.mark.parametrize("size", [(1920, 1080), (1366, 768), (390, 844)], ids=lambda s: str(s[0]))
def test_it_fits_its_width_and_everything_has_a_name_and_contrast(browser, size):
    browser.open(width=size[0], height=size[1])
    assert browser.js("return document.documentElement.scrollWidth") <= size[0]
    unnamed = browser.js("""return [...document.querySelectorAll('input, select, textarea, button')]
        .filter((e) => e.offsetParent !== null && !e.getAttribute('aria-label'))
        .filter((e) => !e.labels?.length && !e.textContent.trim()).map((e) => e.outerHTML)""")
    assert unnamed == []
    faint = browser.js(CONTRAST)
    assert faint == []
    assert browser.complaints() == []


CONTRAST = """
const line = (v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
const light = (c) => {
  const [r, g, b] = c.match(/[\\d.]+/g).slice(0, 3).map((v) => line(v / 255));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const found = [];
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const e = walk.currentNode.parentElement, text = walk.currentNode.data.trim();
  if (!text || !e || e.offsetParent === null || ['SCRIPT', 'STYLE'].includes(e.tagName)) continue;
  let back = e;
  while (back && getComputedStyle(back).backgroundColor === 'rgba(0, 0, 0, 0)') back = back.parentElement;
  const behind = back ? getComputedStyle(back).backgroundColor : 'rgb(255, 255, 255)';
  const [a, b] = [light(getComputedStyle(e).color), light(behind)].sort((x, y) => y - x);
  if ((a + 0.05) / (b + 0.05) < 4.5) found.push(text.slice(0, 40) + ' ' + getComputedStyle(e).color);
}
return found;"""


def test_every_control_is_reached_by_keyboard_and_its_focus_is_seen(browser):
    from selenium.webdriver.common.keys import Keys

    browser.open()
    reached = []
    for _ in range(90):
        browser.driver.switch_to.active_element.send_keys(Keys.TAB)
        ident, outline = browser.js("""const e = document.activeElement;
            return [e.id, getComputedStyle(e).outlineStyle]""")
        if ident in reached[:1]:
            break
        if ident:
            assert outline != "none", ident
            reached.append(ident)
    knobs = browser.js("return [...document.querySelectorAll('.knob input')].map((e) => e.id)")
    assert len(knobs) == 36
    assert set(knobs) <= set(reached)


@pytest.mark.parametrize("origin", ["http://evil.example", "http://127.0.0.1:1", "null"])
def test_another_origin_gets_no_connection(site, origin):
    import socket

    host = urlsplit(site)
    asked = (f"GET /ws HTTP/1.1\r\nHost: {host.netloc}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
             f"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\nOrigin: {origin}\r\n"
             "Sec-WebSocket-Protocol: bokeh, token\r\n\r\n")
    with socket.create_connection((host.hostname, host.port), 10) as wire:
        wire.sendall(asked.encode())
        assert wire.recv(200).split(b"\r\n")[0].endswith(b"403 Forbidden")


def test_only_this_machine_is_served(site):
    import socket

    port = urlsplit(site).port
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)} - {"127.0.0.1"}
    for address in others:
        if not address.startswith("127."):
            with pytest.raises(OSError):  # noqa: PT011
                socket.create_connection((address, port), 2)


def test_a_page_finds_its_program_again_when_that_was_restarted(browser, restarting):
    site, stop, again = restarting
    browser.open("?card=engines/lab_single.toml&spark=19", site=site)
    curve = browser.lumped()
    stop()
    browser.until(lambda: "does not answer" in browser.text("told"))
    again()
    browser.until(lambda: "does not answer" not in browser.text("told"))
    browser.reaches(lambda s: s["lumped"] == curve and "spark=19" in s["query"])
    browser.open()
    browser.complaints()  # that nobody answered stands in the console: no other test shall read it


def test_twenty_pages_at_once_all_get_their_curve(browser, site):
    async def all_pages():
        return await asyncio.gather(*(told(site, f"?card=engines/lab_single.toml&spark={10 + k}") for k in range(20)))

    told_by = asyncio.run(all_pages())
    assert len(set(told_by)) > 10  # as many engines, some of them alike to a tenth of a newton metre
    browser.open()
    before = browser.lumped()
    browser.paste("knob-spark", "22")
    browser.until(lambda: browser.lumped() != before)


async def told(site, query):
    """A page as a visitor's browser opens it, without drawing it: the first sentence with a number it is sent."""
    from tornado.httpclient import AsyncHTTPClient, HTTPRequest
    from tornado.websocket import websocket_connect

    patient = {"connect_timeout": 300, "request_timeout": 300}
    page = (await AsyncHTTPClient(max_clients=40).fetch(site + query, **patient)).body.decode()
    token = re.search(r'"token":\s*"([^"]+)"', page)[1]
    where = HTTPRequest(site.replace("http", "ws") + "ws", headers={"Origin": site.rstrip("/")}, **patient)
    wire = await websocket_connect(where, subprotocols=["bokeh", token])
    while (message := await asyncio.wait_for(wire.read_message(), 300)) is not None:
        if '"ACK"' in str(message):
            for part in ('{"msgid": "1", "msgtype": "PULL-DOC-REQ"}', "{}", "{}"):
                await wire.write_message(part)
        if found := re.search(r"[\d.]+ N m at \d+ rpm[^\"]* by the \w+ model", str(message)):
            wire.close()
            return found[0]
    raise AssertionError("the connection was closed")

"""A live page in a process of its own and a real browser looking at it; skipped where either is missing."""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BROWSER, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars")
PATIENCE = 120  # s: no test asks how fast anything is


def pytest_collection_modifyitems(items):
    """Skip, with the reason, where there is no browser."""
    missing = [name for name, there in (("chromium", BROWSER), ("chromedriver", DRIVER)) if not there]
    for item in items:
        if missing and Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.skip(reason=f"{' and '.join(missing)} not installed"))


def start(*args, port=None):
    """The command ``pullcast lab`` on a port, a free one if none is given: its process and address."""
    if port is None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    process = subprocess.Popen([sys.executable, "-m", "pullcast", "lab", *args, "--no-open", "--port", str(port)],
                               cwd=ROOT, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    url = f"http://127.0.0.1:{port}/"
    for _ in range(1200):  # a first run compiles kernels
        try:
            urllib.request.urlopen(url, timeout=5).read()
        except OSError:
            assert process.poll() is None, "the server ended by itself"
            time.sleep(0.1)
        else:
            return process, url
    process.terminate()
    raise AssertionError("the server did not come up")


@pytest.fixture(scope="session")
def site():
    """Address of a live page of the teaching single."""
    for name in ("bokeh", "selenium"):
        pytest.importorskip(name, reason=f"{name} is not installed")
    process, url = start("configs/engines/lab_single.toml")
    yield url
    process.terminate()
    process.wait(PATIENCE)


@pytest.fixture
def restarting():
    """A live page of its own that the test stops and starts: its address, a function for each."""
    process, url = start("configs/engines/lab_single.toml")
    running = [process]

    def stop():
        running[0].terminate()
        running[0].wait(PATIENCE)

    def again():
        running[0] = start("configs/engines/lab_single.toml", port=int(url.rstrip("/").rpartition(":")[2]))[0]

    yield url, stop, again
    stop()


@pytest.fixture(scope="session")
def downloads(tmp_path_factory):
    """Where the browser keeps what it saves."""
    return tmp_path_factory.mktemp("downloads")


@pytest.fixture(scope="session")
def browser(site, downloads, tmp_path_factory):
    """A headless browser."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = BROWSER
    for flag in (*FLAGS, f"--user-data-dir={tmp_path_factory.mktemp('profile')}"):
        options.add_argument(flag)
    options.add_experimental_option("prefs", {"download.default_directory": str(downloads)})
    options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield Page(driver, site)
    driver.quit()


STATE = """
const d = window.Bokeh && Bokeh.documents[0];
const column = (source, name) => {
  const s = d && d.get_model_by_name(source + '-data');
  return s ? Array.from(s.data[name] || []) : [];
};
const text = (id) => { const e = document.getElementById(id); return e ? e.textContent : ''; };
const weak = column('weak', 'now'), now = column('curve', 'now');
return { rpm: column('curve', 'rpm'), now, weak, base: column('curve', 'base'), diff: column('curve', 'diff'),
  along: column('waves', 'p').length, lumped: weak.length ? weak : now,
  sentence: text('sentence'), march: text('march'), key: text('key-now'), query: location.search };"""


class Page:
    """A browser on the live page, in the words of the tests."""

    def __init__(self, driver, site):
        self.driver, self.site = driver, site

    def open(self, query="", width=1366, height=768, site=""):
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600})
        self.driver.get((site or self.site) + query)
        self.until(lambda: self.state()["lumped"] and " rpm" in self.text("sentence"))

    def js(self, text, *args):
        return self.driver.execute_script(text, *args)

    def the(self, ident):
        return self.driver.find_element("id", ident)

    def text(self, ident):
        return self.js("return document.getElementById(arguments[0]).textContent", ident)

    def state(self):
        """What is drawn, all of one moment: columns of the curve, and the words about it. ``lumped`` is the lumped
        model's curve now: the strong one until the waves stand there, then the dotted one."""
        return self.js(STATE)

    def lumped(self):
        return self.state()["lumped"]

    def until(self, holds, seconds=PATIENCE):
        """Wait until something holds, and give it; however slow the machine is."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            found = holds()
            if found:
                return found
            time.sleep(0.05)
        raise AssertionError(f"it did not come within {seconds} s; the page says: {self.text('sentence')}, "
                             f"{self.text('march')}; card: {self.text('card-told')} {self.text('card-faults')}")

    def reaches(self, holds, seconds=PATIENCE):
        """Wait until the state of one moment satisfies ``holds``, and give that state."""
        return self.until(lambda: (lambda s: s if holds(s) else None)(self.state()), seconds)

    def waves(self, holds=lambda s: True):
        """Wait for the wave model's curve of the engine as it stands, and give the state."""
        return self.reaches(lambda s: "has come" in s["march"] and s["weak"] and "by the wave model" in s["sentence"]
                            and "wave model" in s["key"] and holds(s), 3 * PATIENCE)

    def type(self, ident, text):
        from selenium.webdriver.common.keys import Keys

        self.the(ident).send_keys(Keys.CONTROL, "a")
        self.the(ident).send_keys(text)

    def paste(self, ident, text):
        """A text put into a field at once."""
        self.the(ident).is_displayed()
        self.js("""const e = document.getElementById(arguments[0]); e.focus(); e.value = arguments[1];
            e.dispatchEvent(new Event('input'))""", ident, text)

    def click(self, ident):
        self.js("document.getElementById(arguments[0]).click()", ident)

    def upload(self, path):
        self.the("open-file").send_keys(str(path))

    def requests(self):
        """Addresses asked for since the last call, the browser's own pages left out."""
        found = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                found.append(message["params"]["request"]["url"])
            if message["method"] == "Network.webSocketCreated":
                found.append(message["params"]["url"])
        return [url for url in found if not url.startswith(("chrome:", "chrome-untrusted:"))]

    def complaints(self):
        """Warnings and errors of the browser's console since the last call."""
        return [e["message"] for e in self.driver.get_log("browser") if e["level"] != "INFO"]

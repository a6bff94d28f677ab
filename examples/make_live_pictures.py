"""Photographs the live page at the widths of a desk, a projector and a telephone, for the gallery.

Run from the project's folder: ``python examples/make_live_pictures.py``. It needs selenium, chromium and
chromedriver, and says so where one of them is missing. The engine is invented.
"""

import argparse
import io
import os
import shutil
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[1]
CARD = "configs/engines/lab_single.toml"
BENCH = "?card=engines/lab_single.toml&runner_length=320&intake_duration=216"
PATIENCE = 600.0  # s
COLOURS = 96
FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--hide-scrollbars")
# name: width, height, further address, whether a lesson is opened
VIEWS = {"live_page_desk": (1920, 1400, "&rpm=2600", False), "live_page_projector": (1280, 720, "", False),
         "live_page_phone": (390, 844, "", False), "live_page_lesson": (1366, 900, "", True)}


def missing() -> list[str]:
    """What is not here of what it takes."""
    from importlib.util import find_spec

    return [name for name, there in (("selenium", find_spec("selenium")), ("bokeh", find_spec("bokeh")),
                                     ("chromium", shutil.which("chromium")),
                                     ("chromedriver", shutil.which("chromedriver"))) if not there]


@contextmanager
def page():
    """The live page, served on a free port: its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "pullcast", "lab", CARD, "--no-open", "--port", str(port)]
    process = subprocess.Popen(command, cwd=ROOT, env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until(lambda: process.poll() is not None or answers(port))
        yield f"http://127.0.0.1:{port}/"
    finally:
        process.terminate()
        process.wait()


def answers(port: int) -> bool:
    """Whether somebody listens there."""
    with socket.socket() as probe:
        probe.settimeout(1.0)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def until(holds) -> None:
    """Wait until something holds; RuntimeError after ten minutes."""
    end = time.monotonic() + PATIENCE
    while not holds():
        if time.monotonic() > end:
            msg = "the live page did not come to where its picture was to be taken"
            raise RuntimeError(msg)
        time.sleep(0.1)


@contextmanager
def browser():
    """A headless browser."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium")
    for flag in FLAGS:
        options.add_argument(flag)
    driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
    try:
        yield driver
    finally:
        driver.quit()


def photograph(driver, address: str, view: tuple[int, int, str, bool]) -> bytes:
    """A picture of the page once the wave model has come."""
    width, height, more, lesson = view
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
        "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600})

    def text(ident: str) -> str:
        return driver.execute_script("return (document.getElementById(arguments[0]) || {}).textContent || ''", ident)

    def click(what: str) -> None:
        until(lambda: driver.execute_script("return !!document.querySelector(arguments[0])", what))
        driver.execute_script("document.querySelector(arguments[0]).click()", what)

    driver.get(address + BENCH + more)
    until(lambda: "by the wave model" in text("sentence") and "has come" in text("march"))
    if lesson:
        click("#lessons")
        click("#open-filling")
        click("input[name=guess][value=a]")
        click("#lesson-run")
        until(lambda: "What came out" in text("lesson") and "has come" in text("march"))
    time.sleep(1.0)  # the last lines are drawn
    return driver.get_screenshot_as_png()


def small(png: bytes) -> bytes:
    """The picture in few colours."""
    from PIL import Image

    file = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(file, "PNG",
                                                                                                 optimize=True)
    return file.getvalue()


def make(folder: Path) -> list[Path]:
    """Write a picture of every view into a folder; the files written."""
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    with page() as address, browser() as driver:
        for name, view in VIEWS.items():
            file = folder / f"{name}.png"
            file.write_bytes(small(photograph(driver, address, view)))
            files.append(file)
    return files


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--into", type=Path, default=ROOT / "examples" / "guide" / "gallery",
                         help="folder to write into")
    given = options.parse_args()
    if missing():
        raise SystemExit(f"not photographed: {', '.join(missing())} not installed")
    for written in make(given.into):
        print(written)

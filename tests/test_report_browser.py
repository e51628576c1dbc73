"""The report in a real browser: what a person sees, hears and prints. Skipped where no browser and driver are."""

from __future__ import annotations

import base64
import io
import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.support.ui import WebDriverWait

from assistant.cli import browser, run
from tests.fleet import put_fleet
from tests.log_sample import log_of
from tests.test_report import LEAKING, spoken_check
from tests.walk import WHOLE, Walk

DRIVER = shutil.which("chromedriver")
RECITED = ("static leakage, i watch for one minute", "it went from one hundred to ninety psi", "i take the chocks out")
AXE = Path(__file__).resolve().parent.parent / "node_modules" / "axe-core" / "axe.min.js"
# Where a point of a chart stands in the units of its axis: from the numbers printed on the axis.
POINTS = """
const row = document.querySelector(`[data-test="${arguments[0]}"]`);
const axis = name => [...row.querySelectorAll(`.axis.${name} text`)].map(
  text => [parseFloat(text.textContent), parseFloat(text.getAttribute(name))]);
const scale = (marks, at) => {
  const [[a, ax], [b, bx]] = [marks[0], marks[marks.length - 1]];
  return a + (at - ax) * (b - a) / (bx - ax);
};
return [...row.querySelectorAll('circle')].map(dot => {
  const xs = axis('x'), ys = axis('y').map(([v, y]) => [v, y - 3.5]);
  return [dot.parentNode.querySelector('title').textContent, scale(xs, parseFloat(dot.getAttribute('cx'))),
    ys.length > 1 ? scale(ys, parseFloat(dot.getAttribute('cy'))) : null];
});
"""


@pytest.fixture(scope="module")
def chromium() -> Iterator[webdriver.Chrome]:
    found = browser.find()
    if found is None or DRIVER is None:
        pytest.skip("no Chromium with chromedriver is installed: apt install chromium chromium-driver")
    options = Options()
    options.binary_location = str(found)
    for option in ("--headless=new", "--disable-gpu", *(["--no-sandbox"] if os.geteuid() == 0 else [])):
        options.add_argument(option)
    options.add_argument("--autoplay-policy=no-user-gesture-required")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield driver
    driver.quit()


def _open(chromium: webdriver.Chrome, log: Path, width: int = 1280) -> None:
    run(["report", str(log)])
    size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600}
    chromium.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    chromium.get_log("performance")
    chromium.get_log("browser")
    chromium.get(log.with_suffix(".html").as_uri())


def test_the_page_opens_without_an_error_and_asks_nobody_for_anything(chromium, tmp_path) -> None:
    _open(chromium, spoken_check(tmp_path))
    asked = [json.loads(line["message"])["message"] for line in chromium.get_log("performance")]
    addresses = [m["params"]["request"]["url"] for m in asked if m["method"] == "Network.requestWillBeSent"]
    assert addresses, "the page itself is a request"
    assert all(address.startswith(("file:", "data:")) for address in addresses), addresses
    assert chromium.get_log("browser") == []
    assert "Verified" in chromium.find_element("id", "integrity").text


def test_the_charts_show_the_readings_where_they_belong(chromium, tmp_path) -> None:
    _open(chromium, log_of(Walk(*LEAKING), tmp_path / "a.jsonl"))
    (title, at, _), *others = chromium.execute_script(POINTS, "governor-cut-out")
    assert (title, at, others) == ("125 psi", pytest.approx(125, abs=0.5), [])
    loss = {name: (x, y) for name, x, y in chromium.execute_script(POINTS, "applied-leakage")}
    ends = {"primary 112": (0, 112), "primary 104": (62, 104), "secondary 110": (0, 110), "secondary 109": (62, 109)}
    for name, place in ends.items():
        shown = next(value for key, value in loss.items() if key.startswith(name))
        assert shown == (pytest.approx(place[0], abs=0.6), pytest.approx(place[1], abs=0.6))


def test_a_kept_utterance_plays(chromium, tmp_path) -> None:
    _open(chromium, spoken_check(tmp_path))
    chromium.execute_script("document.querySelectorAll('details').forEach(one => one.open = true)")
    seconds = chromium.execute_async_script(
        "const done = arguments[0], sound = document.querySelector('audio');"
        "sound.onended = () => done(sound.currentTime); sound.onerror = () => done(-1);"
        "sound.muted = true; sound.play().catch(() => done(-2));"
    )
    assert seconds == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("width", [360, 390, 768, 1280])
def test_nothing_is_wider_than_the_screen(chromium, tmp_path, width) -> None:
    _open(chromium, log_of(Walk(*LEAKING), tmp_path / "a.jsonl"), width)
    assert chromium.execute_script("return document.documentElement.scrollWidth") <= width
    cell = "return document.querySelector('.verdicts td:last-child').getBoundingClientRect().width"
    assert chromium.execute_script(cell) >= min(150, width / 2)


@pytest.mark.parametrize("paper", [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "Letter"])
@pytest.mark.parametrize("phrases", [WHOLE, LEAKING], ids=["passed", "failed"])
def test_the_report_prints_on_two_sheets(chromium, tmp_path, paper, phrases) -> None:
    _open(chromium, log_of(Walk(*phrases), tmp_path / "a.jsonl", driver="Robin Example"))
    size = {"paperWidth": paper[0], "paperHeight": paper[1], "printBackground": True}
    # Under load Chromium now and then gives up printing a page that it has shown; it is asked again.
    asking = WebDriverWait(chromium, 30, ignored_exceptions=[WebDriverException])
    made = base64.b64decode(asking.until(lambda driver: driver.execute_cdp_cmd("Page.printToPDF", size))["data"])
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", made)) <= 2


def test_the_report_becomes_a_pdf(tmp_path) -> None:
    if browser.find() is None:
        pytest.skip("no browser of the Chromium kind is installed")
    log = log_of(Walk(*WHOLE), tmp_path / "a.jsonl")
    assert run(["report", str(log), "--pdf"]) == 0
    assert log.with_suffix(".pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("page", ["report", "recital", "history"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_serious_fault(chromium, tmp_path, monkeypatch, scheme, page) -> None:
    if not AXE.is_file():
        pytest.skip("axe-core is not there: npm install --no-save axe-core")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    chosen = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    chromium.execute_cdp_cmd("Emulation.setEmulatedMedia", chosen)
    chromium.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
    if page == "report":
        _open(chromium, spoken_check(tmp_path))
    elif page == "recital":
        log = tmp_path / "recited.jsonl"
        monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(RECITED)))
        run(["recite", "--typed", "--log", str(log)])
        _open(chromium, log)
    else:
        _open_history(chromium, tmp_path)
    chromium.execute_script("document.querySelectorAll('details').forEach(one => one.open = true)")
    chromium.execute_script(AXE.read_text(encoding="utf-8"))
    found = chromium.execute_async_script("axe.run().then(arguments[arguments.length - 1])")
    assert found["passes"], "axe did run"
    serious = [fault for fault in found["violations"] if fault["impact"] in ("serious", "critical")]
    assert [(fault["id"], [node["html"] for node in fault["nodes"]][:3]) for fault in serious] == []


def test_the_history_shows_each_margin_where_it_belongs(chromium, tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    _open_history(chromium, tmp_path, width=390)
    assert chromium.get_log("browser") == []
    assert chromium.execute_script("return document.documentElement.scrollWidth") <= 390
    points = chromium.execute_script(POINTS, "applied-leakage")
    assert len(points) == 12
    for name, _, height in points:
        assert height == pytest.approx(float(name.split("margin ")[1].split()[0]), abs=0.1)


def _open_history(chromium: webdriver.Chrome, folder: Path, width: int = 1280) -> None:
    """The page of a small fleet, in which one leak grows."""
    list(put_fleet(folder / "logs", vehicles=5, days=12))
    out = folder / "fleet.html"
    run(["history", str(folder / "logs"), "--html", str(out)])
    size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600}
    chromium.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    chromium.get_log("browser")
    chromium.get(out.as_uri())

"""A browser of the Chromium kind, to print a page to PDF.

Law: the browser gets one local file, a profile of its own that is thrown away, and no network.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from assistant.core.trouble import BadInput, Missing, Trouble

VARIABLE = "GLADHAND_BROWSER"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge", "microsoft-edge")
_PLACES = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
)
_PATIENCE_S = 60


def find() -> Path | None:
    """The browser that GLADHAND_BROWSER names, else one that is installed; None: there is none."""
    named = os.environ.get(VARIABLE)
    found = [named] if named else [*map(shutil.which, NAMES), *(place for place in _PLACES if Path(place).is_file())]
    return next((Path(path) for path in found if path), None)


def print_to_pdf(html: str, out: Path) -> None:
    """Raises Missing without a browser, BadInput for a place that can't be written, Trouble when it fails."""
    browser = find()
    if browser is None:
        raise Missing(
            "A PDF needs a browser of the Chromium kind, and none was found. Install one (apt install chromium), name "
            f"it in {VARIABLE}, or write the page (without --pdf) and print it from any browser."
        )
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        page, made = Path(folder) / "report.html", Path(folder) / "report.pdf"
        page.write_text(html, encoding="utf-8")
        _run([str(browser), *_options(folder), f"--print-to-pdf={made}", page.as_uri()], browser)
        if not made.is_file():
            raise Trouble(f"{browser} made no PDF. Write the page (without --pdf) and print it from any browser.")
        try:
            out.write_bytes(made.read_bytes())
        except OSError as error:
            raise BadInput(f"Can't write {out}: {error.strerror}. Name another file with -o.") from error


def _options(folder: str) -> list[str]:
    root = hasattr(os, "geteuid") and os.geteuid() == 0  # Chromium refuses its sandbox to root
    options = ["--headless", "--disable-gpu", f"--user-data-dir={folder}/profile", "--no-first-run"]
    options += ["--disable-background-networking", "--disable-component-update", "--no-pdf-header-footer"]
    return [*options, *(["--no-sandbox"] if root else [])]


def _run(command: list[str], browser: Path) -> None:
    try:
        done = subprocess.run(command, capture_output=True, timeout=_PATIENCE_S, check=False, text=True)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise Trouble(f"{browser} could not be used: {error}. Name another browser in {VARIABLE}.") from error
    if done.returncode != 0:
        last = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise Trouble(f"{browser} could not print the page: {last}")

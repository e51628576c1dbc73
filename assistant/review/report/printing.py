"""A page printed by a browser that is there."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from assistant.core.trouble import Missing, Trouble

_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge", "microsoft-edge")
_PATIENCE_S = 60


def to_pdf(page: Path, pdf: Path) -> None:
    """Print `page` into `pdf`. Raises Missing without a browser, Trouble when it does not print."""
    browser = next(filter(None, map(shutil.which, _BROWSERS)), None)
    if browser is None:
        raise Missing("A PDF needs a Chromium browser, and none was found. Open the page in any browser and print it.")
    with tempfile.TemporaryDirectory() as profile:
        command = [
            browser,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--no-first-run",
            f"--user-data-dir={profile}",
        ]
        command += ["--no-pdf-header-footer", f"--print-to-pdf={pdf.resolve()}", page.resolve().as_uri()]
        try:
            done = subprocess.run(command, capture_output=True, timeout=_PATIENCE_S, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise Trouble(f"The browser did not print the page ({error}). Open {page} and print it.") from error
    if done.returncode != 0 or not pdf.is_file():
        raise Trouble(f"The browser did not print the page. Open {page} in it and print it.")

"""A check told again on the terminal, moment by moment, and aloud when that is wanted.

Law: words carry the meaning, colour only repeats it. What was kept of the driver's voice is played as it is; the lines
of the assistant are spoken again by the voice of this machine.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table
from rich.text import Text

from assistant.core.events import Verdict
from assistant.core.prompts import clock
from assistant.core.trouble import Trouble
from assistant.review.sounds import Sounds
from assistant.review.story import Moment, Wording, doubts

if TYPE_CHECKING:
    from assistant.mouth.loudspeaker import Loudspeaker

_STYLES = {"driver": "cyan", "gladhand": "bold", "reading": "magenta", "device": "yellow"}
_OUTCOMES = {"pass": "bold green", "fail": "bold red", "not judged": "bold yellow"}
_CALM_WPM = 170
_POLL_S = 0.05


class Retelling:
    """`sounds`: play and speak too; None: captions only."""

    def __init__(self, console: Console, wording: Wording, sounds: Sounds | None) -> None:
        self._console = console
        self._wording = wording
        self._sounds = sounds
        self._speaker = None if sounds is None else self._loudspeaker()

    def show(self, moment: Moment) -> None:
        """Print a moment; return when it has been heard, if it is to be."""
        row = Table.grid(padding=(0, 1))
        row.add_column(width=5, justify="right", style="dim")
        row.add_column(width=8, style=_STYLES.get(moment.who, ""))
        row.add_column(overflow="fold")
        row.add_row(clock(moment.at_ms), moment.who, self._text(moment))
        self._console.print(row)
        self._sound(moment)

    def close(self) -> None:
        """Give back the loudspeaker."""
        if self._speaker is not None:
            self._speaker.close()

    def _loudspeaker(self) -> Loudspeaker:
        from assistant.mouth.loudspeaker import Loudspeaker  # slow to load, and most replays are silent

        return Loudspeaker(self._told, _CALM_WPM)

    def _text(self, moment: Moment) -> Text:
        text = Text()
        if moment.verdict is not None:
            outcome = moment.verdict.outcome
            text.append(f" {outcome.upper()} ", f"reverse {_OUTCOMES[outcome]}").append(" ")
        text.append(moment.text)
        if not moment.answered:
            text.append("  (not for us)")
            text.stylize("dim")
        below = _evidence(moment.verdict) if moment.verdict else doubts(moment)
        for line in below:
            text.append(f"\n{line}", "dim")
        return text

    def _sound(self, moment: Moment) -> None:
        if self._speaker is None or self._sounds is None:
            return
        if moment.who == "gladhand":
            self._speaker.speak(moment.spoken)
        elif moment.heard is not None and (flac := self._sounds.of(moment.heard)):
            try:
                self._speaker.play_file(flac)
            except Trouble as trouble:
                self._told(str(trouble))
        while self._speaker.speaking:
            time.sleep(_POLL_S)

    def _told(self, why: str) -> None:
        self._console.print(why, style="yellow", markup=False, soft_wrap=True)


def _evidence(verdict: Verdict) -> list[str]:
    margin = "" if verdict.margin is None else f"; margin: {verdict.margin:+g} {verdict.unit or ''}".rstrip()
    return [f"limit: {verdict.limit}{margin}; source: {verdict.source}"]

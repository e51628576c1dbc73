"""The child process of the voice: one pyttsx3 engine that writes what it is asked to say into files.

Law: pyttsx3 is used nowhere else, and only in the way that holds: settings once, before the first text; one text at a
time; finished when its event came, never when its call returned (on Linux the first call returns before it spoke).
It may hang for ever, so it lives in a process that can be killed. It needs nothing of the rest of the program.
Requests and answers are JSON, one a line, on the pipes; the end of the input ends the process at once.
"""

from __future__ import annotations

import json
import os
import queue
import signal
import sys
import threading
import time
from typing import Any, TextIO


def main() -> None:
    """Arguments: words a minute, loudness 0 to 1, the id or name of the voice ("" = an English one)."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interrupt from the keyboard is for the parent to handle
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # pyttsx3 prints on the standard output
    requests: queue.SimpleQueue[dict[str, str]] = queue.SimpleQueue()
    threading.Thread(target=_read, args=(requests,), daemon=True).start()
    try:
        engine = _engine(int(sys.argv[1]), float(sys.argv[2]), sys.argv[3])
    except Exception as error:  # every platform's driver has its own ways to be absent
        _answer(answers, error=str(error) or type(error).__name__)
        return
    finished = threading.Event()
    engine.connect("finished-utterance", lambda **_: finished.set())
    _answer(answers, voices=[[voice.id, voice.name, _language(voice)] for voice in engine.getProperty("voices")])
    while True:
        request = requests.get()
        finished.clear()
        engine.save_to_file(request["text"], request["file"])
        engine.runAndWait()
        if sys.platform != "win32":  # there the call itself writes the file, and no event comes
            finished.wait()
        _answer(answers, done=request["file"])


def _read(requests: queue.SimpleQueue[dict[str, str]]) -> None:
    """On its own thread, so that the end of the parent ends this process even while the engine hangs."""
    for line in sys.stdin:
        requests.put(json.loads(line))
    os._exit(0)


def _engine(rate_wpm: int, volume: float, wanted: str) -> Any:
    import pyttsx3

    engine = pyttsx3.init()
    voices = engine.getProperty("voices")
    named = [voice.id for voice in voices if wanted.casefold() in (voice.id.casefold(), voice.name.casefold())]
    american = [voice.id for voice in voices if _language(voice) == "en-us"]
    english = [voice.id for voice in voices if _language(voice).startswith("en")]
    choice = named or american or english
    if choice:
        engine.setProperty("voice", choice[0])
    engine.setProperty("rate", rate_wpm)
    engine.setProperty("volume", volume)
    _hand_over(engine)
    return engine


def _hand_over(engine: Any) -> None:
    """Waits until espeak-ng has taken the settings. It takes them on a thread of its own, and the first loop of the
    engine begins by throwing away what that thread has not come to yet (seen on a busy machine)."""
    espeak = sys.modules.get("pyttsx3.drivers._espeak")
    if espeak is not None:
        engine.proxy.setBusy(False)
        while espeak.IsPlaying():
            time.sleep(0.001)


def _language(voice: Any) -> str:
    """The voice's first language as in "en-us"; "" when the driver does not say."""
    languages = voice.languages or [""]
    return str(languages[0] or "").casefold().replace("_", "-")


def _answer(answers: TextIO, **message: Any) -> None:
    answers.write(json.dumps(message) + "\n")
    answers.flush()


if __name__ == "__main__":
    main()

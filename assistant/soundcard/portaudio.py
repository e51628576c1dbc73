"""PortAudio, reached through sounddevice: devices by name, streams opened and closed.

Law: every call is made by one thread, one call at a time, because PortAudio is not safe to call from several; and no
caller waits for ever: a frozen sound server blocks open and close without end, so a call that doesn't come back within
its limit is left behind with its thread, and the next call gets a fresh one.
Samples are 16 bit whole numbers, shape (frames, channels).
"""

from __future__ import annotations

import atexit
import contextlib
import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from types import ModuleType
from typing import Any, TypeVar

from assistant.core.trouble import Missing
from assistant.soundcard.devices import PLAIN_NAME, WITHOUT, Direction, SoundDevice, choose

Result = TypeVar("Result")

CALL_LIMIT_S = 2.0
LOAD_LIMIT_S = 10.0  # the first call loads the library and asks every driver for its devices
NO_LIBRARY = (
    "The PortAudio library was not found, so sound can neither be heard nor played. "
    "Install it (on Debian and Ubuntu: apt-get install libportaudio2), or go on with typed answers and captions."
)
NOT_ANSWERING = (
    "The sound system of this machine does not answer. Restart it, or go on with typed answers and captions."
)


@dataclass(frozen=True)
class Wish:
    """What stream is wanted. `device` None: the default. `rate` in Hz; the device's own rate is taken where this one is
    refused. `block_s`: the length of a block. `serve`: sounddevice's stream callback. `ready`: told rate
    and channels before the first callback. `finished`: told when the stream ended, asked for or not."""

    direction: Direction
    device: str | None
    rate: int
    block_s: float
    serve: Callable[..., None]
    ready: Callable[[int, int], None]
    finished: Callable[[], None]


@dataclass(eq=False)
class _Opened:
    stream: Any


class _Worker:
    """One thread that makes calls in the order in which they were asked."""

    def __init__(self) -> None:
        self._asked: queue.SimpleQueue[tuple[Callable[[], Any], Future[Any]]] = queue.SimpleQueue()
        threading.Thread(target=self._work, name="sound card", daemon=True).start()

    def ask(self, call: Callable[[], Result]) -> Future[Result]:
        future: Future[Result] = Future()
        self._asked.put((call, future))
        return future

    def _work(self) -> None:
        while True:
            call, future = self._asked.get()
            if not future.set_running_or_notify_cancel():
                continue
            try:
                future.set_result(call())
            except BaseException as error:  # it belongs to the caller, who gets it from the future
                future.set_exception(error)


class SoundCard:
    """All sound devices of this machine. Any thread may call; no call blocks for more than a few seconds.

    One per process: PortAudio has one list of devices and streams.
    """

    def __init__(self) -> None:
        self._worker = _Worker()
        self._library: ModuleType | None = None
        self._no_library = False
        self._open_streams: set[_Opened] = set()

    @property
    def can_never_work(self) -> bool:
        """The library is not installed, so trying again in this process is useless."""
        return self._no_library

    def devices(self) -> tuple[SoundDevice, ...]:
        """Every device, in the system's order. Raises Missing when PortAudio is not there or does not answer."""
        return self._call(self._query, LOAD_LIMIT_S if self._library is None else CALL_LIMIT_S)

    def open(self, wish: Wish) -> _Opened:
        """Opens and starts a stream; raises Missing when that is not possible now, with what a person can do."""
        return self._call(lambda: self._open(wish), LOAD_LIMIT_S if self._library is None else 2 * CALL_LIMIT_S)

    def close(self, opened: _Opened) -> None:
        """Stops and closes a stream, dropping what it still holds. A close that hangs is left behind."""
        with contextlib.suppress(Missing):
            self._call(lambda: self._close(opened), CALL_LIMIT_S)

    def look_again(self) -> None:
        """Lets devices that were plugged in since be seen.

        PortAudio makes its list once, and making a new one ends every stream; so nothing happens while one is open.
        """
        with contextlib.suppress(Missing):
            self._call(self._renew, CALL_LIMIT_S)

    def _call(self, call: Callable[[], Result], limit_s: float) -> Result:
        while True:
            worker = self._worker
            future = worker.ask(call)
            try:
                return future.result(limit_s)
            except TimeoutError:
                if self._worker is worker:
                    self._worker = _Worker()
                if future.cancel():  # it stood behind a call that hangs: ask the fresh thread
                    continue
                future.add_done_callback(self._throw_away)
                self._let_the_process_end()
                raise Missing(NOT_ANSWERING) from None

    def _close_all(self) -> None:
        for opened in list(self._open_streams):
            self.close(opened)

    def _throw_away(self, late: Future[Any]) -> None:
        """A stream that opened after its caller had gone is closed again."""
        if late.exception() is None and isinstance(late.result(), _Opened):
            self._close(late.result())

    def _let_the_process_end(self) -> None:
        """sounddevice ends PortAudio at exit; beside a call that hangs that would hang, too."""
        if self._library is not None:
            atexit.unregister(self._library._exit_handler)

    # --- what follows runs on the worker ---

    def _sounddevice(self) -> ModuleType:
        if self._no_library:
            raise Missing(NO_LIBRARY)
        if self._library is None:
            try:
                import sounddevice
            except (ImportError, OSError) as error:  # sounddevice raises OSError when there is no PortAudio
                self._no_library = True
                raise Missing(NO_LIBRARY) from error
            except Exception as error:  # PortAudio is there but can't start; its error class is not known yet
                raise Missing(NOT_ANSWERING) from error
            self._library = sounddevice
            atexit.register(self._close_all)  # runs before sounddevice's own: ending PortAudio under a stream crashes
        return self._library

    def _query(self) -> tuple[SoundDevice, ...]:
        sd = self._sounddevice()
        systems = sd.query_hostapis()
        own = systems[sd.default.hostapi] if systems else {}
        return tuple(
            SoundDevice(
                name=device["name"],
                system=systems[device["hostapi"]]["name"],
                inputs=device["max_input_channels"],
                outputs=device["max_output_channels"],
                rate=round(device["default_samplerate"]),
                is_default_input=device["index"] == own.get("default_input_device"),
                is_default_output=device["index"] == own.get("default_output_device"),
                index=device["index"],
            )
            for device in sd.query_devices()
        )

    def _open(self, wish: Wish) -> _Opened:
        sd = self._sounddevice()
        device = choose(self._query(), wish.direction, wish.device)
        refusals: list[str] = []
        for rate, channels in dict.fromkeys([(wish.rate, 1), (wish.rate, 2), (device.rate, 1), (device.rate, 2)]):
            try:
                opened = _Opened(_started(sd, wish, device.index, rate, channels))
            except (sd.PortAudioError, ValueError) as error:
                refusals.append(str(error))
                continue
            self._open_streams.add(opened)
            return opened
        kind = PLAIN_NAME[wish.direction]
        raise Missing(
            f'The {kind} "{device.name}" can\'t be opened ({refusals[0]}). Check that it is plugged in and that no '
            f"other program holds it, or {WITHOUT[wish.direction]}."
        )

    def _close(self, opened: _Opened) -> None:
        sd = self._sounddevice()
        with contextlib.suppress(sd.PortAudioError):
            opened.stream.abort()
            opened.stream.close()
        self._open_streams.discard(opened)

    def _renew(self) -> None:
        sd = self._sounddevice()
        if not self._open_streams:
            with contextlib.suppress(sd.PortAudioError):
                sd._terminate()
                sd._initialize()


def _started(sd: ModuleType, wish: Wish, index: int, rate: int, channels: int) -> Any:
    stream = (sd.InputStream if wish.direction == "input" else sd.OutputStream)(
        samplerate=rate,
        blocksize=round(rate * wish.block_s),
        device=index,
        channels=channels,
        dtype="int16",
        latency="low",
        callback=wish.serve,
        finished_callback=wish.finished,
    )
    try:
        wish.ready(rate, channels)
        stream.start()
    except BaseException:
        stream.close()
        raise
    return stream

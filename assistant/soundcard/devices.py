"""Sound devices by name, as a person knows them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assistant.core.trouble import Missing

Direction = Literal["input", "output"]

PLAIN_NAME = {"input": "microphone", "output": "loudspeaker"}
WITHOUT = {"input": "go on with typed answers", "output": "go on with captions only"}


@dataclass(frozen=True)
class SoundDevice:
    """A device as the system names it. `rate`: its own sample rate in Hz. `inputs`, `outputs`: numbers of channels."""

    name: str
    system: str
    inputs: int
    outputs: int
    rate: int
    is_default_input: bool
    is_default_output: bool
    index: int

    def serves(self, direction: Direction) -> bool:
        return (self.inputs if direction == "input" else self.outputs) > 0

    def is_default(self, direction: Direction) -> bool:
        return self.is_default_input if direction == "input" else self.is_default_output


def choose(devices: tuple[SoundDevice, ...], direction: Direction, name: str | None) -> SoundDevice:
    """The device that `name` means: the whole name, else a part of it, in any case; None: the default device.

    Raises Missing when there is none, or when a part fits several names.
    """
    kind = PLAIN_NAME[direction]
    usable = sorted((d for d in devices if d.serves(direction)), key=lambda d: not d.is_default(direction))
    if not usable:
        raise Missing(f"No {kind} was found. Plug one in, or {WITHOUT[direction]}.")
    if name is None:
        return usable[0]
    wanted = name.casefold()
    whole = [d for d in usable if d.name.casefold() == wanted]
    part = [d for d in usable if wanted in d.name.casefold()]
    if whole:
        return whole[0]
    if len({d.name for d in part}) == 1:
        return part[0]
    known = ", ".join(dict.fromkeys(f'"{d.name}"' for d in part or usable))
    fault = f'Several {kind}s fit "{name}"' if part else f'No {kind} is called "{name}"'
    raise Missing(f"{fault}. Name one of these: {known}.")

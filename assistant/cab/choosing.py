"""What is asked before the check because nobody told it: the vehicle, and the standard where there are several.

Law: pure, like the dialogue that comes after it. Nothing is chosen by one word alone: what was understood is said, and
a yes makes it so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final, Literal

from assistant.core.events import Line, Setup, VehicleClass
from assistant.core.hearing import Understood
from assistant.core.numbers import spoken

VEHICLES: Final[Mapping[str, VehicleClass]] = MappingProxyType(
    {
        "vehicle-truck": "truck",
        "vehicle-bus": "bus",
        "vehicle-tractor": "tractor",
        "vehicle-combination": "combination",
        "vehicle-doubles": "doubles",
        "vehicle-triples": "triples",
    }
)
MOST: Final = 6
_SPOKEN: Final[Mapping[str, str]] = MappingProxyType({"combination": "tractor with trailer"})
_NO_ANSWER: Final = ("help", "repeat")


@dataclass(frozen=True)
class Choice:
    """One question. `names`: what may be chosen -> how it is said. `proposed`: what was understood, not yet confirmed.
    `chosen`: the answer."""

    what: Literal["vehicle", "standard"]
    names: Mapping[str, str]
    proposed: str | None = None
    chosen: str | None = None

    @property
    def question(self) -> Line:
        """What is asked now."""
        if self.proposed is not None:
            return Line(prompt="choose.right", values={"chosen": self.names[self.proposed]})
        if self.what == "vehicle":
            return Line(prompt="choose.vehicle")
        choices = "; ".join(f"say number {spoken(at)} for {name}" for at, name in enumerate(self.names.values(), 1))
        return Line(prompt="choose.standard", values={"choices": choices})

    def hear(self, understood: Understood) -> tuple[Choice, tuple[Line, ...]]:
        """The choice after an utterance, and what is said to it; talk is no business of ours."""
        meant = self._meant(understood)
        if meant is not None:
            after = replace(self, proposed=meant)
        elif self.proposed is not None and understood.answer == "yes":
            return replace(self, chosen=self.proposed), ()
        elif self.proposed is not None and understood.answer == "no":
            after = replace(self, proposed=None)
        elif understood.why == "talk":
            return self, ()
        elif understood.command in _NO_ANSWER:
            after = self
        else:
            return self, (Line(prompt="choose.again"), self.question)
        return after, (after.question,)

    def _meant(self, understood: Understood) -> str | None:
        numbered = {f"choice-{number}": name for number, name in enumerate(self.names, 1)}
        known: Mapping[str, str] = VEHICLES if self.what == "vehicle" else numbered
        named = [known[report] for report in understood.reports if report in known]
        return named[0] if len(named) == 1 else None


def vehicle() -> Choice:
    return Choice("vehicle", {name: _SPOKEN.get(name, name) for name in VEHICLES.values()})


def standard(titles: Mapping[str, str]) -> Choice:
    """`titles`: of the standards that are configured, by id; the first six can be chosen."""
    return Choice("standard", dict(list(titles.items())[:MOST]))


def settled(setup: Setup, choices: Sequence[Choice]) -> Setup:
    """The setup with what was chosen."""
    for choice in choices:
        if choice.what == "standard":
            setup = setup.model_copy(update={"standard": choice.chosen})
        else:
            made = setup.vehicle.model_copy(update={"vehicle_class": choice.chosen})
            setup = setup.model_copy(update={"vehicle": made})
    return setup

"""One limit of a standard: figures as printed, comparison, condition, consequence, source, and how sure it is.

Law: data, no flow. What the figures mean for a reading is decided in verdicts/; what contradicts itself is found in
contradictions.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from assistant.core.events import Line, MakerFigure, Record, TestId, Unit, Value, Vehicle, VehicleClass
from assistant.core.pressure import Pressure, number, pair_text

Quantity = Literal["time", "pressure", "loss", "answer"]
Sureness = Literal["official", "copy", "secondary", "memory", "practice", "own", "maker"]
Consequence = Literal["must-not-drive", "minor-defect", "have-it-looked-at"]
Built = Literal["before March 1975", "March 1975 to February 1997", "since March 1997"]
Part = Literal["trailer-supply-pop-out", "parking-valve-pop-out", "hand-valve", "trailer-spring-brakes"]

QUANTITY: dict[TestId, Quantity] = {
    "build-up": "time",
    "governor-cut-out": "pressure",
    "governor-cut-in": "pressure",
    "static-leakage": "loss",
    "applied-leakage": "loss",
    "low-air-warning": "pressure",
    "trailer-supply-pop-out": "pressure",
    "parking-valve-pop-out": "pressure",
    "parking-brake": "answer",
    "trailer-brake": "answer",
    "hand-valve": "answer",
    "service-brake": "answer",
}
SURENESS: dict[Sureness, str] = {
    "official": "seen at the official source",
    "copy": "seen in a copy of the source",
    "secondary": "seen only in a text about the source, not checked",
    "memory": "from memory, not checked against the source",
    "practice": "common practice, no source",
    "own": "own figure",
    "maker": "figure of the vehicle's maker",
}
HOLD_SECONDS = 60


class Limit(Record):
    """What one test has to show, for some vehicles.

    A limit without any figure says that the test is part of the standard but that no figure is known.
    """

    test: TestId
    vehicles: tuple[VehicleClass, ...] = Field((), description="Classes it is for; empty: every class.")
    built: tuple[Built, ...] = Field((), description="Build dates it is for; empty: every date.")
    needs: Part | None = Field(None, description="A vehicle without this part does not have the test.")
    at_least: Pressure | None = None
    at_most: Pressure | None = Field(None, description="A pressure, or the pressure lost in a leakage test.")
    less_than: Pressure | None = None
    clear_fail: Pressure | None = Field(
        None, description="Where the source says only about how much: from the limit to here the test is not judged."
    )
    rise_from: Pressure | None = Field(None, alias="from", description="Where the time of build-up starts.")
    rise_to: Pressure | None = Field(None, alias="to", description="Where the time of build-up ends.")
    seconds_at_most: float | None = Field(None, gt=0)
    seconds_less_than: float | None = Field(None, gt=0)
    hold: int = Field(HOLD_SECONDS, gt=0, description="Seconds that a leakage test is held.")
    per_minute: bool = Field(False, description="The source states a loss per minute of a longer hold.")
    needle: Literal["each", "lowest", "highest"] = Field("each", description="Which needle decides; each: the worst.")
    devices: Literal["either", "light"] = Field("either", description="Which warning has to come on.")
    half_cut_out: bool = Field(False, description="Or half the cut-out pressure, whichever is less.")
    larger_tanks: Literal["rule", "maker"] | None = Field(
        None, description="Longer is allowed with larger tanks: in proportion (rule) or as their maker says (maker)."
    )
    may_not_pop: bool = Field(False, description="The source allows that the valve does not pop out.")
    lines: Literal["coupled", "open"] = Field("coupled", description="The trailer lines during the pop-out test.")
    must: Literal["held", "felt", "straight"] | None = None
    law: bool | None = Field(None, description="The limit is law; left out: as the standard's kind says.")
    condition: str = ""
    consequence: Consequence
    source: str = Field(min_length=1)
    sure: Sureness

    @property
    def quantity(self) -> Quantity:
        return QUANTITY[self.test]

    @property
    def comparison(self) -> Literal["at least", "at most", "less than", "within", "must", "no figure"]:
        if self.must is not None:
            return "must"
        if self.at_least and (self.at_most or self.less_than):
            return "within"
        if self.less_than or self.seconds_less_than:
            return "less than"
        if self.at_most or self.seconds_at_most:
            return "at most"
        return "at least" if self.at_least else "no figure"

    def covers(self, vehicle: Vehicle) -> bool:
        """Whether this limit is the one for the vehicle."""
        return (
            (not self.vehicles or vehicle.vehicle_class in self.vehicles)
            and (not self.built or vehicle.built in self.built)
            and self.needs not in vehicle.absent
        )

    def text(self) -> str:
        """The limit in one phrase, with the figures as printed."""
        return {"time": self._time_text, "pressure": self._pressure_text, "loss": self._loss_text}.get(
            self.quantity, self._must_text
        )()

    def cited(self) -> str:
        """The source, and how little is known of it where that is so."""
        doubt = SURENESS[self.sure] if self.sure in ("secondary", "memory", "practice") else ""
        return f"{self.source} ({doubt})" if doubt and not self.source.startswith(doubt) else self.source

    def replaced_by(self, figure: MakerFigure) -> Limit:
        """The same limit with the figure of the vehicle's maker."""
        changes: dict[str, object] = {"source": figure.where, "sure": "maker", "clear_fail": None}
        if figure.unit == "s":
            changes |= {"seconds_at_most": figure.at_most, "seconds_less_than": None, "larger_tanks": None}
        else:
            changes |= {"at_least": _pressure(figure.at_least, figure.unit), "less_than": None, "half_cut_out": False}
            changes |= {"at_most": _pressure(figure.at_most, figure.unit)}
        return self.model_copy(update=changes)

    def line(self, unit: Unit) -> Line:
        """The limit as a sentence to say."""
        kind = f"{self.quantity}-{self.comparison}".replace(" ", "-")
        if self.comparison == "no figure":
            return Line(prompt="limit.no-figure")
        if self.must is not None:
            return Line(prompt=f"limit.{self.must}")
        if self.half_cut_out:
            kind = "half-cut-out"
        if self.larger_tanks == "rule":
            kind = "time-rule"
        return Line(prompt=f"limit.{kind}", values=self._values(unit))

    def _values(self, unit: Unit) -> dict[str, Value]:
        values: dict[str, Value] = {}
        figures = {"low": self.at_least, "high": self.at_most or self.less_than}
        values |= {key: figure.shown(unit) for key, figure in figures.items() if figure}
        if self.rise_from and self.rise_to:
            values |= {"start": self.rise_from.mark(unit), "end": self.rise_to.mark(unit)}
        if self.quantity == "time":
            values["limit"] = self.seconds_at_most or self.seconds_less_than
        if self.quantity == "loss":
            values["hold"] = 60 if self.per_minute else self.hold
        return values

    def _pressure_text(self) -> str:
        high = self.at_most or self.less_than
        word = "at most" if self.at_most else "less than"
        if self.at_least and self.at_most:
            return f"from {pair_text((self.at_least, self.at_most), ' to ')}"
        if self.at_least and high:
            return f"at least {self.at_least.text()} and {word} {high.text()}"
        if high:
            return f"{word} {high.text()}"
        if not self.at_least:
            return "no figure"
        about = "about " if self.clear_fail else ""
        half = " or half the cut-out pressure, whichever is less" if self.half_cut_out else ""
        return f"at least {about}{self.at_least.text()}{half}"

    def _loss_text(self) -> str:
        high = self.at_most or self.less_than
        if not high:
            return "no figure"
        time = f"per minute, held {self.hold} s" if self.per_minute else f"in {self.hold} s"
        return f"a loss of {'at most' if self.at_most else 'less than'} {high.text()} {time}"

    def _time_text(self) -> str:
        seconds = self.seconds_at_most or self.seconds_less_than
        if not (seconds and self.rise_from and self.rise_to):
            return "no figure"
        rule = " x tank volume / required tank volume" if self.larger_tanks == "rule" else ""
        word = "at most" if self.seconds_at_most else "less than"
        return f"{pair_text((self.rise_from, self.rise_to), ' to ')} in {word} {number(seconds)} s{rule}"

    def _must_text(self) -> str:
        texts = {"held": "must hold", "felt": "must be felt", "straight": "must stop straight"}
        return texts[self.must] if self.must else "no figure"


def _pressure(value: float | None, unit: Unit) -> Pressure | None:
    if value is None:
        return None
    return Pressure(psi=value) if unit == "psi" else Pressure(kPa=value)

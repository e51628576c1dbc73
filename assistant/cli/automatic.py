"""Rehearsals that run by themselves: a simulated driver does the whole check, and the verdicts are held to the truth.

Law: the check is a real one, with its log; only afterwards is it compared with what the vehicle really has.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Literal, NamedTuple

from pydantic import BaseModel

from assistant import assets, standards
from assistant.cab.rehearsal import Ears, Hands, RehearsalCab
from assistant.cab.script import judge, script
from assistant.cli import build
from assistant.core.events import Begun, Effect, Event, Outcome, Say, Setup, Take, TestId, Verdict
from assistant.core.plan import plan
from assistant.core.prompts import asks_again
from assistant.log import SessionLog
from assistant.session import Cab, Session
from assistant.vehicle.driver import Driver
from assistant.vehicle.expected import Truth, expected
from assistant.vehicle.habits import Habits
from assistant.vehicle.reciter import Reciter
from assistant.vehicle.vehicle import Vehicle


class Compared(BaseModel):
    """One test: what is so, and what was found."""

    test: TestId
    truth: Truth
    verdict: Outcome
    reason: str

    @property
    def wrong(self) -> bool:
        return self.truth != "near" and self.verdict not in ("not judged", self.truth)


class Run(BaseModel):
    """One rehearsal. `readings_wrong`: needles that the log holds otherwise than the driver meant. `asks`: how often
    the driver was asked again. `finished`: every test has its verdict. `points`, `total`: of a recital."""

    seed: int
    vehicle: str
    faults: tuple[str, ...]
    tests: tuple[Compared, ...]
    readings_spoken: int
    readings_wrong: int
    asks: int
    simulated_s: float
    wall_s: float
    log: str
    finished: bool
    points: int | None = None
    total: int | None = None


class Gone(NamedTuple):
    """How a check or a recital has ended. `points`, `total`: of a recital."""

    verdicts: Mapping[TestId, Verdict]
    finished: bool
    points: int | None = None
    total: int | None = None


Watcher = Callable[[int, Event, tuple[Effect, ...]], None]


def go_through(setup: Setup, log: SessionLog, cab: Cab, watch: Watcher) -> Gone:
    """A check or a recital of this setup, from the first words to the end. Raises LogTrouble as the log does."""
    begun = Begun(setup=setup)
    if setup.recital is None:
        dialogue = build.dialogue_for(setup)
        state = Session(dialogue, assets.prompts(), log, cab, watch).begin(begun)
        return Gone(state.verdicts, dialogue.finished(state))
    flow = build.recital_for(setup)
    said = Session(flow, assets.prompts(), log, cab, watch).begin(begun)
    return Gone(said.verdicts, flow.finished(said), said.points, said.total)


class Rehearsal:
    """One check of a simulated vehicle by a simulated driver. `look`: called with the vehicle as time passes."""

    def __init__(
        self,
        vehicle: Vehicle,
        seed: int,
        habits: Habits,
        ears: Ears,
        standard: str,
        recital: Literal["strict"] | None = None,
    ) -> None:
        self.vehicle = vehicle
        self.setup = Setup(standard=standard, vehicle=vehicle.spec.record, recital=recital)
        self._seed = seed
        self._driver = self._hands(habits)
        self._ears = ears
        self._watched: list[tuple[int, Event, tuple[Effect, ...]]] = []

    def _hands(self, habits: Habits) -> Hands:
        if self.setup.recital is None:
            return Driver(self.vehicle, self._seed, habits)
        scheme = build.recital_for(self.setup).scheme
        return Reciter(self.vehicle, script(scheme), judge(scheme))

    def run(self, place: Path, watch: Watcher | None = None, look: Callable[[Vehicle], None] | None = None) -> Run:
        """Do it, with its log in `place`. Raises LogTrouble when the log can't be written."""
        began = time.perf_counter()
        cab = RehearsalCab(self.vehicle, self._driver, self._ears, look)

        def watcher(at_ms: int, event: Event, effects: tuple[Effect, ...]) -> None:
            self._watched.append((at_ms, event, effects))
            cab.watch(at_ms, event, effects)
            if watch is not None:
                watch(at_ms, event, effects)

        log = SessionLog.create(place, build.header(self.setup, "rehearsal"))
        gone = go_through(self.setup, log, cab, watcher)
        return self._told(gone, cab, log.path, time.perf_counter() - began)

    def _told(self, gone: Gone, cab: RehearsalCab, path: Path, wall_s: float) -> Run:
        effects = [effect for _, _, several in self._watched for effect in several]
        lines = [line for effect in effects if isinstance(effect, Say) for line in effect.lines]
        return Run(
            seed=self._seed,
            vehicle=self.vehicle.spec.vehicle_class,
            faults=tuple(map(str, self.vehicle.faults)),
            tests=compare(self.vehicle, self.setup, gone.verdicts),
            readings_spoken=sum(len(spoken.meant) for _, spoken in cab.spoken if spoken.reads),
            readings_wrong=self._wrong(cab),
            asks=sum(map(asks_again, lines)),
            simulated_s=round(self.vehicle.now_s, 1),
            wall_s=round(wall_s, 2),
            log=str(path),
            finished=gone.finished,
            points=gone.points,
            total=gone.total,
        )

    def _wrong(self, cab: RehearsalCab) -> int:
        """Readings on the record in the end that are not what the driver last meant at that time."""
        final: dict[tuple[TestId, str], tuple[int, Take]] = {}
        for at_ms, _, effects in self._watched:
            final |= {(effect.test, effect.slot): (at_ms, effect) for effect in effects if isinstance(effect, Take)}
        wrong = 0
        for at_ms, take in final.values():
            meant = next(
                (spoken.meant for begun, spoken in reversed(cab.spoken) if begun <= at_ms and spoken.meant), {}
            )
            values = set(meant.values())
            wrong += sum(
                reading.value not in values if reading.needle is None else meant.get(reading.needle) != reading.value
                for reading in take.readings
            )
        return wrong


def compare(vehicle: Vehicle, setup: Setup, verdicts: Mapping[TestId, Verdict]) -> tuple[Compared, ...]:
    """Each test of the check beside the truth about this vehicle."""
    prompts = assets.prompts()
    standard = standards.load(setup.standard)
    tests = [test.id for test in plan(standard, setup.vehicle).tests]
    truth = expected(vehicle, standard, tests)
    return tuple(
        Compared(
            test=test,
            truth=truth[test],
            verdict=verdicts[test].outcome if test in verdicts else "not judged",
            reason=prompts.full(verdicts[test].reason) if test in verdicts else "The check ended before this test.",
        )
        for test in tests
    )

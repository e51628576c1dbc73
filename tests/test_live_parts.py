"""The parts of a live check that need no sound card: clocks, kept sound, interruptions, choices, the screen."""

from __future__ import annotations

import contextlib
import hashlib
import io
import queue
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from card import HandCard, wait_until
from rich.console import Console

from assistant import assets
from assistant.cab import choosing
from assistant.cab.clock import CheckClock, Clocks
from assistant.cab.interrupting import Interrupting
from assistant.cab.keeping import Recent, SoundFolder
from assistant.cab.live import Devices, LiveCab
from assistant.cab.speaking import Finished, Mouth
from assistant.core.events import Device, Ended, Heard, Said, Setup
from assistant.core.hearing import understand
from assistant.core.trouble import Missing, Trouble
from assistant.ears.level import SILENCE_DB, Level
from assistant.ears.microphone import Microphone
from assistant.ears.recogniser import Recogniser
from assistant.log import sound_folder
from assistant.mouth.engines import EngineFailed, VoiceName
from assistant.mouth.glance import HEIGHT, WIDTH, Glance, fits, large
from assistant.mouth.player import Player
from assistant.mouth.sound import Sound
from assistant.mouth.voice import Voice
from tests.walk import APPLIED_HOLDING, HOLDING, WHOLE, Walk, language


class Hands:
    """Three clocks that a test moves."""

    def __init__(self) -> None:
        self.monotonic = self.boot = self.wall = 1000.0
        self.clock = CheckClock(Clocks(lambda: self.monotonic, lambda: self.boot, lambda: self.wall))

    def pass_by(self, monotonic: float, boot: float | None = None, wall: float | None = None) -> float:
        self.monotonic += monotonic
        self.boot += monotonic if boot is None else boot
        self.wall += monotonic if wall is None else wall
        return self.clock.slept_s()


# --- clocks ----------------------------------------------------------------------------------------------------------


def test_time_goes_on_from_where_an_interrupted_check_was() -> None:
    hands = Hands()
    hands.clock.start(from_ms=90_000)
    hands.pass_by(1.5)
    assert hands.clock.now_ms() == 91_500
    assert hands.clock.ms(1000.25) == 90_250
    assert hands.clock.seconds_until(92_000) == pytest.approx(0.5)


def test_a_machine_that_stays_awake_has_not_slept() -> None:
    hands = Hands()
    assert [hands.pass_by(0.1) for _ in range(20)] == [0.0] * 20
    assert hands.pass_by(0.1, boot=0.15, wall=0.4) == 0.0, "clocks tremble and are set by a little"


@pytest.mark.parametrize(
    ("boot", "wall"),
    [(3.1, 3.1), (0.1, 3.1), (0.1, -2.9)],
    ids=["the boot clock tells", "only the wall clock tells", "the wall clock is set back"],
)
def test_a_sleep_and_a_clock_that_is_set_are_noticed_once(boot: float, wall: float) -> None:
    hands = Hands()
    assert hands.pass_by(0.1, boot, wall) == pytest.approx(3.0)
    assert hands.pass_by(0.1) == 0.0


def test_where_every_clock_runs_on_in_a_sleep_the_silence_itself_tells() -> None:
    assert Hands().pass_by(30.0) == pytest.approx(30.0)


def test_a_sleep_in_a_hold_voids_it() -> None:
    walk = Walk(*HOLDING)
    assert walk.state.hold is not None
    walk.feed(Device(device="clock", state="back", detail="The machine slept for 3.0 s."))
    assert walk.state.hold is None
    assert walk.asked == "ask.leak-first"
    assert walk.said[:2] == ("hold.broken", "device.clock-back")


# --- kept sound ------------------------------------------------------------------------------------------------------


def test_an_utterance_is_cut_out_of_the_recent_sound_by_its_sample_numbers() -> None:
    recent = Recent()
    for first in range(0, 8000, 800):
        recent.add(first, np.arange(first, first + 800, dtype=np.int16))
    assert recent.between(750, 2410).tolist() == list(range(750, 2410))
    assert recent.between(-300, 5).tolist() == [0, 1, 2, 3, 4], "before the beginning there is nothing"
    assert len(recent.between(20_000, 21_000)) == 0


def test_old_sound_is_forgotten() -> None:
    recent = Recent()
    for block in range(60 * 20):
        recent.add(block * 800, np.ones(800, np.int16))
    assert len(recent.between(0, 60 * 16_000)) <= 41 * 16_000


def test_kept_sound_is_the_same_samples_under_the_hash_in_the_log(tmp_path) -> None:
    sound = np.arange(-500, 500, dtype=np.int16)
    folder = SoundFolder(sound_folder(tmp_path / "check.jsonl"), told=pytest.fail)
    sha = folder.keep(sound, 12_345)
    file = tmp_path / "check-sound" / "00012345.flac"
    assert hashlib.sha256(file.read_bytes()).hexdigest() == sha
    assert soundfile.read(file, dtype="int16")[0].tolist() == sound.tolist()


def test_a_disk_that_takes_no_sound_is_told_of_once_and_the_check_goes_on(tmp_path) -> None:
    (tmp_path / "check-sound").write_text("a file where the folder should be")
    told: list[str] = []
    folder = SoundFolder(sound_folder(tmp_path / "check.jsonl"), told.append)
    assert [folder.keep(np.zeros(100, np.int16), at) for at in (1, 2)] == [None, None]
    assert len(told) == 1
    assert "go on without it" in told[0]


# --- speaking over the assistant -------------------------------------------------------------------------------------


def _level(db: float) -> Level:
    return Level(db, db, False)


def _after_a_turn(own_db: float, driver_db: float | None = -20.0) -> Interrupting:
    interrupting = Interrupting()
    interrupting.driver_db = driver_db
    for _ in range(40):
        interrupting.take(_level(-70), speaking=False)
    assert not any(interrupting.take(_level(own_db), speaking=True) for _ in range(60))
    interrupting.take(_level(-70), speaking=False)
    return interrupting


def _told(interrupting: Interrupting, *levels: float) -> list[bool]:
    return [interrupting.take(_level(db), speaking=True) for db in levels]


@pytest.mark.parametrize("own_db", [-40.0, -50.0, SILENCE_DB])
def test_three_loud_pieces_are_the_driver_where_the_own_voice_is_faint(own_db: float) -> None:
    assert _told(_after_a_turn(own_db), own_db, -20, -20, -20, -20) == [False, False, False, True, False]


def test_two_loud_pieces_are_a_knock_and_no_driver() -> None:
    assert not any(_told(_after_a_turn(-40), -20, -20, -40, -20, -20, -40))


@pytest.mark.parametrize(("own_db", "driver_db"), [(-30.0, -20.0), (-20.0, -20.0), (-40.0, None)])
def test_nobody_can_interrupt_while_the_own_voice_is_loud_or_the_driver_not_known(own_db, driver_db) -> None:
    assert not any(_told(_after_a_turn(own_db, driver_db), -15, -15, -15, -15))


def test_a_false_alarm_makes_it_harder() -> None:
    interrupting = _after_a_turn(-40)
    interrupting.false_alarm()
    assert not any(_told(interrupting, -33, -33, -33))
    assert any(_told(interrupting, -20, -20, -20))


def test_the_weak_first_sound_of_a_driver_who_cuts_in_makes_it_no_harder() -> None:
    interrupting = _after_a_turn(SILENCE_DB)
    for _ in range(8):
        assert _told(interrupting, SILENCE_DB, -36, -28, -30, -30, -30)[-2:] == [True, False]
        interrupting.take(_level(-70), speaking=False)


# --- the mouth -------------------------------------------------------------------------------------------------------


class Tongue:
    """A speech engine: each letter lasts 10 ms. `works` False: it fails for every text."""

    name = "tongue"

    def __init__(self, works: bool = True) -> None:
        self.works = works

    def render(self, text: str) -> Sound:
        if not self.works:
            raise EngineFailed("it has no breath")
        return Sound(np.full(220 * len(text), 9000, np.int16), 22_050)

    def voices(self) -> tuple[VoiceName, ...]:
        return ()

    def close(self) -> None: ...


class Speaking:
    """A mouth on a card that is turned by hand."""

    def __init__(self, tongue: Tongue, refuse: str | None = None) -> None:
        self.card = HandCard(refuse=refuse)
        self.player = Player(self.card)
        self.microphone = Microphone(HandCard())
        self.told: queue.SimpleQueue[Finished | Device] = queue.SimpleQueue()
        self.mouth = Mouth(Voice(engines=[tongue]), self.player, self.microphone, self.told.put, tones=False)
        with contextlib.suppress(Missing):
            self.player.open()

    def pull_until(self, condition: Callable[[], object]) -> bool:
        return wait_until(lambda: self.player.is_open and self.card.pull(220) is not None and condition(), 10)

    def close(self) -> None:
        self.mouth.close()
        self.player.close()


@pytest.fixture
def speaking() -> Iterator[Callable[..., Speaking]]:
    made: list[Speaking] = []

    def make(tongue: Tongue, **how: str) -> Speaking:
        made.append(Speaking(tongue, **how))
        return made[-1]

    yield make
    for each in made:
        each.close()


def test_the_ears_are_shut_from_the_first_sound_until_the_last_word_has_left(speaking) -> None:
    it = speaking(Tongue())
    it.mouth.say("Brakes are set? Wheels are chocked.")
    assert wait_until(lambda: it.microphone.muted)
    assert it.pull_until(lambda: not it.told.empty())
    assert it.microphone.muted, "until the check has taken note of it"
    said = it.mouth.finished(it.told.get(), listen=False)
    assert said == Said(text="Brakes are set? Wheels are chocked.")
    assert not it.microphone.muted
    assert not it.mouth.speaking


def test_a_turn_behind_another_one_keeps_the_ears_shut(speaking) -> None:
    it = speaking(Tongue())
    it.mouth.say("One.")
    it.mouth.say("Two.")
    assert it.pull_until(lambda: not it.told.empty())
    it.mouth.finished(it.told.get(), listen=False)
    assert it.mouth.speaking
    assert it.microphone.muted


def test_what_is_cut_off_says_how_far_it_got(speaking) -> None:
    it = speaking(Tongue())
    it.mouth.say("Yes. A second sentence that is much longer than the first one.")
    assert wait_until(lambda: it.microphone.muted)
    turn = it.mouth.turns[0]
    assert it.pull_until(lambda: turn.spoken == 1)
    it.mouth.cut()
    assert it.pull_until(lambda: not it.told.empty())
    assert it.mouth.finished(it.told.get(), listen=False).cut
    assert turn.sentences[turn.spoken :] == ["A second sentence that is much longer than the first one."]


def test_without_a_voice_lines_count_as_shown_and_it_is_told_once(speaking) -> None:
    it = speaking(Tongue(works=False))
    it.mouth.say("One.")
    it.mouth.say("Two.")
    told = [it.told.get(timeout=10) for _ in range(3)]
    (lost,) = [each for each in told if isinstance(each, Device)]
    assert (lost.device, lost.state) == ("voice", "lost")
    assert "espeak-ng" in lost.detail
    said = [it.mouth.finished(each, listen=False) for each in told if isinstance(each, Finished)]
    assert said == [Said(text="One."), Said(text="Two.")]
    assert not it.microphone.muted


def test_without_a_loudspeaker_the_ears_stay_open(speaking) -> None:
    it = speaking(Tongue(), refuse="there is none")
    it.mouth.say("One.")
    end = it.told.get(timeout=10)
    assert not it.microphone.muted
    assert it.mouth.finished(end, listen=True) == Said(text="One.")


# --- the inbox -------------------------------------------------------------------------------------------------------


class _NoEars:
    def __call__(self) -> Recogniser:
        raise Missing("nobody listens in this test")


@pytest.fixture
def cab() -> Iterator[tuple[LiveCab, Hands]]:
    """A cab whose devices stay closed, with clocks of its own."""
    hands = Hands()
    cab = LiveCab(
        Devices(quiet=True), _NoEars(), Clocks(lambda: hands.monotonic, lambda: hands.boot, lambda: hands.wall), print
    )
    cab.start(0, None)
    yield cab, hands
    cab.close()


HEARD = Heard(text="done", start_ms=0, end_ms=0)


def test_events_come_out_in_the_order_and_with_the_time_of_their_arrival(cab) -> None:
    live, hands = cab
    live.post(HEARD)
    hands.pass_by(0.5)
    live.post(Ended(why="told to stop"))
    assert live.next(None, holding=False) == (0, HEARD)
    assert live.next(None, holding=False) == (500, Ended(why="told to stop"))


def test_a_deadline_before_the_next_event_comes_first(cab) -> None:
    live, hands = cab
    hands.pass_by(1.0)
    live.post(HEARD)
    assert live.next(900, holding=True) is None
    assert live.next(1100, holding=True) == (1000, HEARD)


def test_what_was_heard_before_the_check_is_no_part_of_it_and_a_lost_device_is(cab) -> None:
    live, hands = cab
    hands.pass_by(1.9)
    live.post(HEARD)
    live.post(Device(device="loudspeaker", state="lost"))
    live.start(0, None)
    assert live.next(100, holding=False) == (0, Device(device="loudspeaker", state="lost"))


def test_a_sleep_is_an_event(cab) -> None:
    live, hands = cab
    hands.monotonic, hands.boot = hands.monotonic + 0.1, hands.boot + 8.1
    arrived = live.next(60_000, holding=True)
    assert arrived is not None
    assert isinstance(arrived[1], Device)
    assert (arrived[1].device, arrived[1].state) == ("clock", "back")
    assert "8.0 s" in arrived[1].detail


def test_ears_that_fail_end_the_check_with_what_to_do(cab) -> None:
    live, _ = cab
    live.post(Trouble("The recogniser stopped."))
    with pytest.raises(Trouble, match="The recogniser stopped"):
        live.next(None, holding=False)


# --- choices before the check ----------------------------------------------------------------------------------------


def _hear(choice: choosing.Choice, *texts: str) -> tuple[choosing.Choice, list[str]]:
    said: list[str] = []
    for text in texts:
        heard = Heard(text=text, start_ms=0, end_ms=0, by="typed")
        choice, lines = choice.hear(understand(heard, language(), "psi"))
        said = [assets.prompts().spoken(line) for line in lines]
    return choice, said


@pytest.mark.parametrize(
    ("text", "vehicle"),
    [
        ("straight truck", "truck"),
        ("it's a bus", "bus"),
        ("tractor without trailer", "tractor"),
        ("tractor with trailer", "combination"),
        ("doubles", "doubles"),
        ("three trailers", "triples"),
    ],
)
def test_a_vehicle_is_chosen_by_its_name_and_a_yes(text: str, vehicle: str) -> None:
    choice, said = _hear(choosing.vehicle(), text)
    assert choice.chosen is None
    assert said[0].endswith("Is that right? Say yes or no.")
    choice, said = _hear(choice, "yes")
    assert (choice.chosen, said) == (vehicle, [])
    assert choosing.settled(Setup(standard="ontario"), [choice]).vehicle.vehicle_class == vehicle


def test_a_no_asks_again_and_another_name_replaces_the_first() -> None:
    assert _hear(choosing.vehicle(), "truck", "no", "bus", "yes")[0].chosen == "bus"
    assert _hear(choosing.vehicle(), "truck", "bus", "yes")[0].chosen == "bus"


def test_a_yes_to_nothing_chooses_nothing() -> None:
    choice, said = _hear(choosing.vehicle(), "yes")
    assert choice.chosen is None
    assert said[0] == "That is none of them."


def test_talk_is_not_answered() -> None:
    assert _hear(choosing.vehicle(), "nice weather today")[1] == []


def test_a_standard_is_chosen_by_its_number() -> None:
    choices = choosing.standard({"ontario": "Ontario", "us-federal": "US federal law"})
    assert "say number two for US federal law" in assets.prompts().spoken(choices.question)
    choice, _ = _hear(choices, "number two", "yes")
    assert choosing.settled(Setup(standard="x"), [choice]).standard == "us-federal"
    assert _hear(choices, "number three")[0].proposed is None


# --- the screen ------------------------------------------------------------------------------------------------------


def _screen(walk: Walk, *, left_s: float = 0.0, hearing: str = "") -> list[str]:
    out = io.StringIO()
    console = Console(file=out, width=WIDTH, height=HEIGHT, force_terminal=True, no_color=True)
    now = [0]
    glance = Glance(console, assets.prompts(), language().written, lambda: now[0], lambda: hearing)
    glance.begin([test.id for test in walk.dialogue.plan.tests], {})
    for at_ms, event, effects in walk.events:
        glance.show(at_ms, event, effects)
    now[0] = walk.state.hold.due_ms - round(left_s * 1000) if walk.state.hold else walk.now
    plain = Console(file=out, width=WIDTH, height=HEIGHT)
    plain.print(glance.render())
    return out.getvalue().splitlines()


@pytest.mark.parametrize("phrases", [(), HOLDING, APPLIED_HOLDING, WHOLE], ids=["begun", "hold", "pedal", "over"])
def test_the_screen_fits_a_small_terminal(phrases: tuple[str, ...]) -> None:
    lines = _screen(Walk(*phrases))
    assert len(lines) < HEIGHT
    assert max(map(len, lines)) <= WIDTH


def test_the_screen_has_question_heard_reading_time_verdict_and_tests() -> None:
    text = "\n".join(_screen(Walk(*HOLDING), left_s=42))
    assert "Hold everything as it is." in text
    assert "primary one twenty two secondary one twenty one" in text
    for line in large("0:42").splitlines():
        assert line.rstrip() in text
    for line in large("122  121").splitlines():
        assert line.rstrip() in text
    assert "PASS  Governor cut-in" in text
    assert "now  Static leakage" in text
    assert "pass Build-up" in text


def test_what_is_being_said_shows_at_once() -> None:
    assert any("primary one" in line for line in _screen(Walk(), hearing="primary one"))


def test_the_places_do_not_move() -> None:
    def places(lines: list[str]) -> list[int]:
        return [n for n, line in enumerate(lines) if line.startswith(("asked", "heard", "reading", "last verdict"))]

    assert places(_screen(Walk())) == places(_screen(Walk(*HOLDING))) == places(_screen(Walk(*WHOLE)))


@pytest.mark.parametrize(
    ("options", "does"),
    [
        ({"force_terminal": True, "width": 80, "height": 24}, True),
        ({"force_terminal": True, "width": 79, "height": 24}, False),
        ({"force_terminal": True, "width": 80, "height": 24, "no_color": True}, False),
        ({"force_terminal": False, "width": 80, "height": 24}, False),
    ],
)
def test_a_terminal_that_is_small_or_without_colour_gets_captions(options, does, monkeypatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    with Path("/dev/null").open("w", encoding="utf-8") if Path("/dev/null").exists() else io.StringIO() as file:
        assert fits(Console(file=file, **options)) == does

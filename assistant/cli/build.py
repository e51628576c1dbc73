"""What several commands put together: the dialogue of a setup, its fingerprints, and the recogniser."""

from __future__ import annotations

import gc
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from assistant import __version__, assets, standards
from assistant.core.dialogue import Dialogue
from assistant.core.events import Setup, Unit
from assistant.core.language import Language
from assistant.core.plan import plan
from assistant.core.trouble import Trouble
from assistant.ears import grammar
from assistant.log import Header, Mode

if TYPE_CHECKING:
    from assistant.ears.recogniser import Recogniser
    from assistant.ears.weighing import Weighing
    from assistant.review.recital import Recital


@cache
def language(unit: Unit = "psi") -> Language:
    """Everything that may be said, from grammars/; numbers that are usual in `unit` are the cheaper ones to hear.

    Its tens of thousands of arcs stay for as long as the program does, so the collector never has to look at them:
    that is a sixth of the time of a report.
    """
    gc.disable()
    try:
        return grammar.read(assets.grammars(), unit)
    finally:
        gc.freeze()
        gc.enable()


def dialogue_for(setup: Setup) -> Dialogue:
    """The reducer for this setup. Raises Trouble for an unknown standard, and for a recital, which is no check."""
    if setup.recital is not None:
        raise Trouble("This is a recital, not a check. Talk through it again with `gladhand recite`.")
    standard = standards.load(setup.standard)
    return Dialogue(standard=standard, plan=plan(standard, setup.vehicle), language=language(setup.unit))


def recital_for(setup: Setup) -> Recital:
    """The flow of a recital for this setup. Raises Trouble for an unknown standard."""
    from assistant.review.recital import Recital, scheme_of  # only a recital needs it

    standard = standards.load(setup.standard)
    return Recital(scheme_of(setup, standard, plan(standard, setup.vehicle)))


def fingerprints(setup: Setup, **files: Path) -> dict[str, str]:
    """SHA-256 of all that shapes a check and isn't in its log. `files`: further ones, by name."""
    if setup.recital is not None:
        from assistant.review.recital import MARKED_BY  # only a recital needs it

        files |= MARKED_BY
    named = {name: assets.fingerprint(path) for name, path in files.items()}
    return {
        "grammars": assets.fingerprint(assets.grammars()),
        "prompts": assets.fingerprint(assets.prompt_folder()),
        "standard": standards.fingerprint(setup.standard),
        **named,
    }


def header(setup: Setup, mode: Mode, source: Path | None = None) -> Header:
    """The first line of a session log that begins now. `source`: the recording or text that is followed."""
    return Header(
        program=f"gladhand {__version__}",
        created=datetime.now().astimezone().isoformat(timespec="milliseconds"),
        setup=setup,
        fingerprints=fingerprints(setup, **({"recording": source} if source else {})),
        mode=mode,
        recording=source.name if source else None,
    )


def recogniser(model_folder: Path, spoken: Unit = "psi", *, free: bool = False, orders: bool = False) -> Recogniser:
    """Ears that obey the grammar; the private model folder is built on first use. `spoken`: the usual unit. `free`,
    `orders`: each utterance is decoded freely as well, for talk that no grammar holds; the turns of a recital, or the
    orders to a simulated vehicle, are expected."""
    from assistant.ears import strict  # numpy and the recogniser are slow to load; most commands hear nothing
    from assistant.ears.recogniser import Recogniser

    folder = strict.prepare(model_folder, language(spoken), grammar.compile_acceptor)
    if not (free or orders):
        return Recogniser(folder, stand=language(spoken).stand, weighing=weighing(spoken), unit=spoken)
    from assistant.ears import expected, opinion
    from assistant.ears.expecting import ExpectedWays
    from assistant.ears.following import Following
    from assistant.ears.freely import FreeTalk
    from assistant.review.recital.turns import turns
    from assistant.vehicle import orders as to_a_vehicle

    awaited = (*(turns() if free else ()), *(to_a_vehicle.turns() if orders else ()))
    stand_ins = language(spoken).stand_ins
    told = expected.Expected(awaited, stand_ins)
    open_folder = strict.prepare(model_folder, told, expected.compile_expected(model_folder))
    ways = ExpectedWays(Following(open_folder), stand_ins)
    return Recogniser(folder, free=FreeTalk(open_folder, opinion.ready(), ways, stand_ins))


def weighing(spoken: Unit = "psi") -> Weighing:
    """The second opinion on what is said in the language."""
    from assistant.ears import opinion
    from assistant.ears.weighing import Weighing

    return Weighing(opinion.ready(), language(spoken), spoken)

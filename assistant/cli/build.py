"""What several commands put together: the dialogue of a setup, its fingerprints, and the recogniser."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from assistant import assets, standards
from assistant.core.dialogue import Dialogue
from assistant.core.events import Setup, Unit
from assistant.core.language import Language
from assistant.core.plan import plan
from assistant.ears import grammar

if TYPE_CHECKING:
    from assistant.ears.recogniser import Recogniser


@cache
def language(unit: Unit = "psi") -> Language:
    """Everything that may be said, from grammars/; numbers that are usual in `unit` are the cheaper ones to hear."""
    return grammar.read(assets.grammars(), unit)


def dialogue_for(setup: Setup) -> Dialogue:
    """The reducer for this setup. Raises Trouble for an unknown standard."""
    standard = standards.load(setup.standard)
    return Dialogue(standard=standard, plan=plan(standard, setup.vehicle), language=language(setup.unit))


def fingerprints(setup: Setup, **files: Path) -> dict[str, str]:
    """SHA-256 of all that shapes a check and isn't in its log. `files`: further ones, by name."""
    named = {name: assets.fingerprint(path) for name, path in files.items()}
    return {
        "grammars": assets.fingerprint(assets.grammars()),
        "prompts": assets.fingerprint(assets.prompt_folder()),
        "standard": standards.fingerprint(setup.standard),
        **named,
    }


def recogniser(model_folder: Path, spoken: Unit = "psi") -> Recogniser:
    """Ears that obey the grammar; the private model folder is built on first use. `spoken`: the usual unit."""
    from assistant.ears import strict  # numpy and the recogniser are slow to load, and most commands hear nothing
    from assistant.ears.recogniser import Recogniser

    folder = strict.prepare(model_folder, language(spoken), grammar.compile_acceptor)
    return Recogniser(folder, stand=language(spoken).stand)

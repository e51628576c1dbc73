"""The encoder of the tiny English model of Moonshine (Jeffries et al. 2024) in PyTorch, and its published weights.

The network was published with whole numbers for weights, as a file of onnxruntime; here they become real numbers again,
so that the encoder can learn. The layout follows the graph in that file.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from torch import nn
from torch.nn import functional

WIDTH, LAYERS, HEADS, INNER = 288, 6, 8, 1152
TURNED = 32  # of the 36 channels of a head: those whose angle tells the place (Su et al. 2021)
_PLACES = {
    "self_attn/q_proj": "query",
    "self_attn/k_proj": "key",
    "self_attn/v_proj": "value",
    "self_attn/o_proj": "out",
    "mlp/fc1": "wide",
    "mlp/fc2": "narrow",
}


class Encoder(nn.Module):
    """Sound (utterances, samples) between -1 and 1, 16 kHz, to (utterances, steps of 384 samples, WIDTH)."""

    def __init__(self) -> None:
        super().__init__()
        self.first = nn.Conv1d(1, WIDTH, 127, stride=64, bias=False)
        self.level = nn.GroupNorm(1, WIDTH)
        self.second = nn.Conv1d(WIDTH, 2 * WIDTH, 7, stride=3)
        self.third = nn.Conv1d(2 * WIDTH, WIDTH, 3, stride=2)
        self.layers = nn.ModuleList(_Layer() for _ in range(LAYERS))
        self.last = nn.LayerNorm(WIDTH, bias=False)
        self.turns: torch.Tensor
        self.register_buffer("turns", 10_000.0 ** (-torch.arange(0, TURNED, 2).float() / TURNED))

    def forward(self, sound: torch.Tensor) -> torch.Tensor:
        here = self.level(torch.tanh(self.first(sound[:, None])))
        here = functional.gelu(self.third(functional.gelu(self.second(here)))).transpose(1, 2)
        angles = torch.arange(here.shape[1]).float()[:, None] * self.turns
        for layer in self.layers:
            here = layer(here, torch.cos(angles), torch.sin(angles))
        heard: torch.Tensor = self.last(here)
        return heard


class _Layer(nn.Module):
    """Attention to the whole utterance, then a layer for each step."""

    def __init__(self) -> None:
        super().__init__()
        self.before, self.between = nn.LayerNorm(WIDTH, bias=False), nn.LayerNorm(WIDTH, bias=False)
        self.query, self.key, self.value, self.out = (nn.Linear(WIDTH, WIDTH, bias=False) for _ in range(4))
        self.wide, self.narrow = nn.Linear(WIDTH, INNER), nn.Linear(INNER, WIDTH)

    def forward(self, here: torch.Tensor, cos: torch.Tensor, sin: torch.Tensor) -> torch.Tensor:
        shape = (*here.shape[:2], HEADS, WIDTH // HEADS)
        normed = self.before(here)
        query, key, value = (part(normed).view(shape).transpose(1, 2) for part in (self.query, self.key, self.value))
        alike = _turned(query, cos, sin) @ _turned(key, cos, sin).transpose(2, 3) / (WIDTH // HEADS) ** 0.5
        seen = alike.softmax(-1) @ value  # in short utterances faster than the attention of the library
        here = here + self.out(seen.transpose(1, 2).reshape(here.shape))
        told: torch.Tensor = here + self.narrow(functional.gelu(self.wide(self.between(here))))
        return told


def _turned(heads: torch.Tensor, cos: torch.Tensor, sin: torch.Tensor) -> torch.Tensor:
    turned, kept = heads[..., :TURNED], heads[..., TURNED:]
    one, other = turned[..., 0::2], turned[..., 1::2]
    pairs = torch.stack((one * cos - other * sin, other * cos + one * sin), -1).flatten(-2)
    return torch.cat((pairs.to(heads.dtype), kept), -1)


def published(file: Path) -> Encoder:
    """The encoder as it was published: `encoder_model.ort` of the package moonshine-voice, folder assets/tiny-en."""
    weights, nodes = _graph(file)
    encoder = Encoder()
    taken = {
        "first.weight": weights["conv1.weight_add_tensor"],
        "level.weight": weights["onnx::Mul_2080"][:, 0],
        "level.bias": weights["onnx::Add_2081"][:, 0],
        "last.weight": weights["layer_norm.weight"],
        "turns": weights["onnx::Expand_202"].ravel(),
    }
    for name, theirs in (("second", "conv2"), ("third", "conv3")):
        taken[f"{name}.weight"] = weights[f"{theirs}.weight_add_tensor"]
        taken[f"{name}.bias"] = weights[f"{theirs}.bias"]
    for number in range(len(encoder.layers)):
        layer = f"layers.{number}"
        taken[f"{layer}.before.weight"] = weights[f"{layer}.input_layernorm.weight"]
        taken[f"{layer}.between.weight"] = weights[f"{layer}.post_attention_layernorm.weight"]
        taken[f"{layer}.wide.bias"] = weights[f"{layer}.mlp.fc1.bias"]
        taken[f"{layer}.narrow.bias"] = weights[f"{layer}.mlp.fc2.bias"]
    for inputs, output in nodes:
        whole = next((name for name in inputs if name.startswith("onnx::MatMul") and name.endswith("quantized")), None)
        if whole is not None:
            _, layer, part, *rest = output.split("/")
            taken[f"{layer}.{_PLACES[f'{part}/{rest[0]}']}.weight"] = _real(weights, whole.removesuffix("_quantized")).T
    encoder.load_state_dict({name: torch.tensor(np.array(one, np.float32)) for name, one in taken.items()})
    return encoder


def _real(weights: dict[str, NDArray[Any]], name: str) -> NDArray[np.float32]:
    whole = weights[f"{name}_quantized"].astype(np.float32)
    return np.asarray((whole - weights[f"{name}_zero_point"]) * weights[f"{name}_scale"], np.float32)


def _graph(file: Path) -> tuple[dict[str, NDArray[Any]], list[tuple[list[str], str]]]:
    """The weights by name, and the inputs and the first output of each node."""
    from onnxruntime.tools import ort_format_model

    sys.path.insert(0, str(Path(ort_format_model.__file__).parent / "ort_flatbuffers_py"))
    from fbs.InferenceSession import InferenceSession

    kinds = {1: np.float32, 2: np.uint8, 3: np.int8, 6: np.int32, 7: np.int64, 9: np.bool_}
    graph = InferenceSession.GetRootAsInferenceSession(bytearray(file.read_bytes()), 0).Model().Graph()
    weights = {}
    for one in map(graph.Initializers, range(graph.InitializersLength())):
        shape = [one.Dims(place) for place in range(one.DimsLength())]
        flat = np.frombuffer(one.RawDataAsNumpy().tobytes(), kinds[one.DataType()])
        weights[one.Name().decode()] = flat.reshape(shape)
    nodes = []
    for one in map(graph.Nodes, range(graph.NodesLength())):
        if one.OutputsLength():
            nodes.append(([one.Inputs(at).decode() for at in range(one.InputsLength())], one.Outputs(0).decode()))
    return weights, nodes

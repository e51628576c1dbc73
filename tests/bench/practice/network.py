"""The network of the second opinion as it learns (PyTorch), and as the file that `assistant.ears.opinion` runs."""

from __future__ import annotations

import tempfile
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import nn
from torch.nn import functional

from assistant.ears.spelling import LETTERS
from tests.bench.practice.encoder import WIDTH, Encoder

CHANNELS = 208
SPREAD = (1, 1, 2, 2, 4, 1)
"""How far apart the three steps of each layer of the speller are: it writes a letter from 27 steps, 0.7 s of sound."""
DROPPED, UNHEARD, MISSING = 0.15, 0.1, 5  # of the layers, of the channels of the encoder; steps that may be missing

_SCALED = {"Mul": "weight", "Add": "bias"}  # of a group norm, as the exporter writes it


class Speller(nn.Module):
    """What was heard (utterances, steps, WIDTH) to log probabilities (utterances, steps, outputs)."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Conv1d(WIDTH, CHANNELS, 5, padding=2, bias=False)
        self.blocks = nn.ModuleList(
            nn.Conv1d(CHANNELS, CHANNELS, 3, padding=step, dilation=step, bias=False) for step in SPREAD
        )
        self.norms = nn.ModuleList(nn.BatchNorm1d(CHANNELS) for _ in range(1 + len(SPREAD)))
        self.out = nn.Conv1d(CHANNELS, len(LETTERS) + 1, 1)

    def forward(self, heard: torch.Tensor) -> torch.Tensor:
        first, *norms = self.norms
        here = functional.relu(first(self.stem(heard.transpose(1, 2))))
        for block, norm in zip(self.blocks, norms, strict=True):
            here = here + functional.dropout(functional.relu(norm(block(here))), DROPPED, self.training)
        told: torch.Tensor = self.out(here).log_softmax(1).transpose(1, 2)
        return told


class Network(nn.Module):
    """Sound (utterances, samples) to log probabilities of the letters (utterances, steps, outputs)."""

    def __init__(self, encoder: Encoder) -> None:
        super().__init__()
        self.encoder, self.speller = encoder, Speller()

    def forward(self, sound: torch.Tensor) -> torch.Tensor:
        told: torch.Tensor = self.speller(self.encoder(sound))
        return told

    def heard_and_told(self, sound: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """What the encoder makes of it; and the letters, with channels missing and, half of the time, some steps (Park
        et al. 2019, SpecAugment)."""
        heard = self.encoder(sound).float()
        utterances, steps, width = heard.shape
        spoilt = heard * ((torch.rand(utterances, 1, width) > UNHEARD) / (1 - UNHEARD))
        first = (torch.rand(utterances, 1) * steps).long()
        length = torch.randint(-MISSING, MISSING, (utterances, 1))
        place = torch.arange(steps)
        spoilt = spoilt * ~((place >= first) & (place < first + length))[:, :, None]
        return heard, self.speller(spoilt)

    def mix(self, other: Network, share: float) -> None:
        """Become the mean of both by their weights, `share` of it from `other`."""
        ours, theirs = self.state_dict(), other.state_dict()
        mixed = {name: one.lerp(theirs[name], share) for name, one in ours.items() if one.is_floating_point()}
        self.load_state_dict(ours | mixed)

    def write(self, file: Path) -> None:
        """As ONNX: whole numbers of 8 bits for the weights of all layers but the last one."""
        from onnxruntime.quantization import QuantType, quantize_dynamic

        self.eval()
        with tempfile.TemporaryDirectory() as room, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the exporter that needs no further package says that it is the older one
            real = Path(room) / "real.onnx"
            sizes = {"sound": {1: "samples"}, "letters": {1: "steps"}}
            torch.onnx.export(
                self,
                (torch.zeros(1, 40_000),),
                real,
                input_names=["sound"],
                output_names=["letters"],
                dynamic_axes=sizes,
                opset_version=17,
                training=torch.onnx.TrainingMode.PRESERVE,  # the norms are not merged into the convolutions
                dynamo=False,
            )
            quantize_dynamic(real, file, weight_type=QuantType.QInt8, op_types_to_quantize=["MatMul"], per_channel=True)
        _narrow_convolutions(file)

    def read(self, file: Path) -> None:
        """Go on from the weights that were written to this file. Raises ValueError where it does not hold all."""
        import onnx
        from onnx import numpy_helper

        graph = onnx.load(file).graph
        kept: dict[str, Any] = {one.name: numpy_helper.to_array(one) for one in graph.initializer}
        found = {name: kept[name] for name in self.state_dict() if name in kept}
        for node in graph.node:
            layer, _, operation = node.name.removeprefix("/").rpartition("/")
            layer = layer.replace("/", ".")
            if node.op_type == "MatMulInteger":
                name = node.input[1].removesuffix("_quantized")
                found[f"{layer}.weight"] = (kept[node.input[1]] * kept[f"{name}_scale"]).T
            elif node.op_type == "Conv":
                whole, scale = kept[f"{node.input[1]}_whole"], kept[f"{node.input[1]}_scale"]
                found[f"{layer}.weight"] = whole * scale.reshape(-1, *[1] * (whole.ndim - 1))
            elif layer == "encoder.level" and operation in _SCALED:
                found[f"{layer}.{_SCALED[operation]}"] = kept[node.input[1]][:, 0]
        missing = {name for name in self.state_dict() if not name.endswith("num_batches_tracked")} - found.keys()
        if missing:
            raise ValueError(f"{file} has no weights for {', '.join(sorted(missing))}.")
        self.load_state_dict({name: torch.tensor(np.array(one)) for name, one in found.items()}, strict=False)


def _narrow_convolutions(file: Path) -> None:
    """The weights of convolutions as whole numbers, made real again when the network is loaded."""
    import onnx
    from onnx import helper, numpy_helper

    model = onnx.load(file)
    kept: dict[str, Any] = {one.name: one for one in model.graph.initializer}
    names = {node.input[1] for node in model.graph.node if node.op_type == "Conv"}
    for name in sorted(names & kept.keys()):
        weights = numpy_helper.to_array(kept[name])
        scale = np.abs(weights).max(axis=tuple(range(1, weights.ndim))) / 127 + 1e-12
        whole = np.round(weights / scale.reshape(-1, *[1] * (weights.ndim - 1))).astype(np.int8)
        model.graph.initializer.remove(kept[name])
        for array, ending in ((whole, "whole"), (scale.astype(np.float32), "scale")):
            model.graph.initializer.append(numpy_helper.from_array(array, f"{name}_{ending}"))
        inputs = [f"{name}_whole", f"{name}_scale"]
        model.graph.node.insert(0, helper.make_node("DequantizeLinear", inputs, [name], axis=0))
    onnx.save(model, file)

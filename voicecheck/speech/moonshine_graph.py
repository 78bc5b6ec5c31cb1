"""A published Moonshine model, taken apart so that nothing is computed twice for one utterance.

The makers' decoder turns its 8-bit weights into floats at every run, and the encoder's output into
keys and values once for every text. Here the first becomes constants, which the runtime works out
while loading, and the second a graph of its own that runs once. The numbers stay the same.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import onnx
import onnxruntime
from onnx import ModelProto, TensorProto, helper, numpy_helper
from onnx.utils import Extractor

TOKENS: Final = "input_ids"
SOUND: Final = "encoder_hidden_states"
CACHED: Final = "use_cache_branch"
PAST: Final = "past_key_values"
SCORES: Final = "logits"


@dataclass(frozen=True, slots=True)
class Decoder:
    """Two graphs. keys: encoder output -> keys and values; texts: tokens and those -> logits."""

    keys: bytes
    texts: bytes


def readable(path: Path) -> ModelProto:
    """A model as a graph, from .onnx or from the runtime's own .ort.

    Raises what onnx or the runtime raise for a file that is neither.
    """
    if path.suffix == ".onnx":
        return onnx.load(path)
    options = onnxruntime.SessionOptions()
    options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_DISABLE_ALL
    options.add_session_config_entry("session.save_model_format", "ONNX")
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder, "model.onnx")
        options.optimized_model_filepath = str(written)
        onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
        return onnx.load(written)


def taken_apart(model: ModelProto) -> Decoder:
    """The branch without a past of a merged decoder. Raises ValueError if it is built otherwise."""
    branch = _without_past(model)
    nodes = [node for node in model.graph.node if node.op_type != "If"] + list(branch.node)
    ends, split = _ends(nodes)
    heads, width = _past_shape(model)
    constants = [*model.graph.initializer, *branch.initializer]
    # Keys and values keep the shape of the one sound: the texts of a batch share them.
    constants.append(numpy_helper.from_array(np.array([0, 0, heads, width], np.int64), "shared"))
    for node in split:
        node.input[1] = "shared"
    given = {i.name: i for i in model.graph.input}
    between = [
        helper.make_tensor_value_info(name, TensorProto.FLOAT, [1, None, heads * width])
        for name in ends
    ]
    whole = helper.make_graph(
        nodes, "decoder", [given[TOKENS], given[SOUND]], [branch.output[0]], constants
    )
    whole.value_info.extend(between)
    cutter = Extractor(
        helper.make_model(whole, opset_imports=model.opset_import, ir_version=model.ir_version)
    )
    keys = cutter.extract_model([SOUND], ends)
    texts = cutter.extract_model([TOKENS, *ends], [branch.output[0].name])
    return Decoder(keys.SerializeToString(), texts.SerializeToString())


def _ends(nodes: Sequence[onnx.NodeProto]) -> tuple[list[str], list[onnx.NodeProto]]:
    """Keys and values where they come out of the sound, and the nodes that part them into heads.

    Raises ValueError where the sound is used otherwise.
    """
    users = [n for n in nodes if SOUND in n.input]
    ends = [n.output[0] for n in users if n.op_type == "MatMul"]
    split = [n for n in nodes if n.op_type == "Reshape" and n.input[0] in ends]
    known = {n.op_type for n in users} <= {"MatMul", "Shape"}
    if not ends or len(split) != len(ends) or not known:
        raise ValueError("its decoder does not use the sound as Moonshine's does")
    return ends, split


def _without_past(model: ModelProto) -> onnx.GraphProto:
    for node in model.graph.node:
        if node.op_type == "If" and node.input[0] == CACHED and node.output[0] == SCORES:
            branch: onnx.GraphProto = next(a.g for a in node.attribute if a.name == "else_branch")
            return branch
    raise ValueError("its decoder is not a merged one")


def _past_shape(model: ModelProto) -> tuple[int, int]:
    """Heads and their width."""
    past = next(i for i in model.graph.input if i.name.startswith(PAST))
    shape = [axis.dim_value for axis in past.type.tensor_type.shape.dim]
    return shape[1], shape[3]

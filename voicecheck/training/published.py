"""The published Moonshine encoder (base, English, MIT) as arrays under the names of `encoder`."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

LAYERS: Final = 8
_MATRICES: Final = {
    "query": "self_attn/q_proj",
    "key": "self_attn/k_proj",
    "value": "self_attn/v_proj",
    "out": "self_attn/dense",
    "up": "mlp/fc1",
    "down": "mlp/fc2",
}

Arrays = dict[str, NDArray[np.float32]]


def published_encoder(path: Path) -> Arrays:
    """path: the encoder as ONNX (see moonshine_graph.readable). Raises KeyError for others."""
    import onnx
    from onnx import numpy_helper

    graph: Any = onnx.load(path).graph
    constants = {i.name: numpy_helper.to_array(i) for i in graph.initializer}
    made_by = {name: node for node in graph.node for name in node.output}

    def value(name: str) -> NDArray[np.float32]:
        """A constant, or what casts, additions and multiplications of constants make."""
        if name in constants:
            return np.asarray(constants[name], np.float32)
        node = made_by[name]
        given = [value(i) for i in node.input]
        if node.op_type == "Mul":
            return given[0] * given[1]
        return given[0] + given[1] if node.op_type == "Add" else given[0]

    def weight(output: str, place: int = 1) -> NDArray[np.float32]:
        return value(made_by[output].input[place])

    found: Arrays = {
        "conv1.weight": weight("/conv1/Conv_output_0"),
        "norm.weight": value(_other("/groupnorm/Mul_output_0", made_by, constants)).reshape(-1),
        "norm.bias": value(_other("/groupnorm/Add_output_0", made_by, constants)).reshape(-1),
        "final.weight": value("layer_norm.weight"),
        "frequencies": value("/rotary_emb/Cast_1_output_0").reshape(-1),
    }
    for conv in ("conv2", "conv3"):
        found[f"{conv}.weight"] = weight(f"/{conv}/Conv_output_0")
        found[f"{conv}.bias"] = weight(f"/{conv}/Conv_output_0", 2)
    for layer in range(LAYERS):
        mine, theirs = f"layers.{layer}", f"layers.{layer}"
        for name, place in _MATRICES.items():
            found[f"{mine}.{name}.weight"] = weight(f"/{theirs}/{place}/MatMul_output_0").T
        for name, place in (("up", "fc1"), ("down", "fc2")):
            found[f"{mine}.{name}.bias"] = value(f"{theirs}.mlp.{place}.bias")
        found[f"{mine}.before.weight"] = value(f"{theirs}.input_layernorm.weight")
        found[f"{mine}.between.weight"] = value(f"{theirs}.post_attention_layernorm.weight")
    return found


def _other(output: str, made_by: dict[str, Any], constants: dict[str, Any]) -> str:
    """The constant among the inputs of what makes `output`."""
    return next(str(name) for name in made_by[output].input if name in constants)

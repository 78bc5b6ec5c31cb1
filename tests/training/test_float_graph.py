"""A graph quantised by the usual tool computes the same when it is turned back to floats."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import onnx
import onnxruntime
from onnx import TensorProto, helper, numpy_helper
from onnxruntime.quantization import QuantType, quantize_dynamic

from voicecheck.training.float_graph import to_floats


def _graph(path: Path) -> None:
    chance = np.random.default_rng(0)
    kernel = chance.standard_normal((6, 4, 3)).astype(np.float32)
    bias = chance.standard_normal(6).astype(np.float32)
    matrix = chance.standard_normal((6, 5)).astype(np.float32)
    nodes = [
        helper.make_node("Conv", ["x", "kernel", "bias"], ["c"], pads=[1, 1]),
        helper.make_node("Relu", ["c"], ["r"]),
        helper.make_node("Transpose", ["r"], ["t"], perm=[0, 2, 1]),
        helper.make_node("MatMul", ["t", "matrix"], ["y"]),
    ]
    constants = (("kernel", kernel), ("bias", bias), ("matrix", matrix))
    graph = helper.make_graph(
        nodes,
        "g",
        [helper.make_tensor_value_info("x", TensorProto.FLOAT, [1, 4, 20])],
        [helper.make_tensor_value_info("y", TensorProto.FLOAT, [1, 20, 5])],
        [numpy_helper.from_array(value, name) for name, value in constants],
    )
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)])
    onnx.save(model, str(path))


def _run(path: Path, x: np.ndarray) -> np.ndarray:
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    return np.asarray(session.run(None, {"x": x})[0])


def test_weights_become_floats_and_the_numbers_stay(tmp_path: Path) -> None:
    whole, small, back = (tmp_path / f"{name}.onnx" for name in ("whole", "small", "back"))
    _graph(whole)
    quantize_dynamic(
        whole, small, weight_type=QuantType.QUInt8, op_types_to_quantize=["Conv", "MatMul"]
    )
    kinds = {node.op_type for node in onnx.load(small).graph.node}
    assert {"ConvInteger", "MatMulInteger"} <= kinds
    assert to_floats(small, back) == 2
    kinds = {node.op_type for node in onnx.load(back).graph.node}
    assert not [kind for kind in kinds if "Integer" in kind or "Quantize" in kind]
    x = np.random.default_rng(1).standard_normal((1, 4, 20)).astype(np.float32)
    wanted, quantised, found = _run(whole, x), _run(small, x), _run(back, x)
    assert np.abs(found - wanted).max() / np.abs(wanted).max() < 0.03
    assert np.abs(found - wanted).mean() <= np.abs(quantised - wanted).mean() * 1.05

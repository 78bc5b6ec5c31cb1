"""An exported listener as parameters again, so that a round begins where another ended.

Matrices come back from 8 bit and convolutions from half floats: near what was trained, and training
goes on from there.

    python -m voicecheck.training.reopen ONNX

tells how far the parameters' output lies from the file's own.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch
from torch import Tensor

from voicecheck.training.published import LAYERS

_FOLDED: Final = {"norm.weight": "/encoder/norm/Mul", "norm.bias": "/encoder/norm/Add"}


def parameters(path: Path) -> dict[str, Tensor]:
    """The listener's state. Raises KeyError for a file that `export` did not write."""
    import onnx
    from onnx import numpy_helper

    graph: Any = onnx.load(path).graph
    constants = {i.name: numpy_helper.to_array(i) for i in graph.initializer}
    found = {
        name.removesuffix("_half"): values.astype(np.float32)
        for name, values in constants.items()
        if name.startswith(("encoder.", "head."))
    }
    found |= _matrices(graph, constants)
    for name, start in _FOLDED.items():
        found[f"encoder.{name}"] = _constant_of(graph, constants, start).reshape(-1)
    found["encoder.frequencies"] = _frequencies(graph, constants)
    shares = [_constant_of(graph, constants, f"/head/Mul{end}") for end in _ends(LAYERS + 2)]
    found["head.mix"] = np.log(np.array([*shares[1:], shares[0]], np.float32)).reshape(-1)
    return {name: torch.from_numpy(values.copy()) for name, values in found.items()}


def _matrices(graph: Any, constants: dict[str, Any]) -> dict[str, Any]:
    """Those in 8 bit, by the place of the node that multiplies with them."""
    found = {}
    for node in graph.node:
        if node.op_type == "MatMulInteger":
            stem = node.input[1].removesuffix("_quantized")
            zero = constants[f"{stem}_zero_point"].astype(np.float32)
            wide = (constants[node.input[1]].astype(np.float32) - zero) * constants[f"{stem}_scale"]
            place = node.name.strip("/").removesuffix("/MatMul_quant").replace("/", ".")
            found[f"{place}.weight"] = np.ascontiguousarray(wide.T)
    return found


def _frequencies(graph: Any, constants: dict[str, Any]) -> Any:
    return next(
        constants[name].reshape(-1)
        for node in graph.node
        if node.name.startswith("/encoder/Mul")
        for name in node.input
        if name in constants
    )


def _ends(count: int) -> list[str]:
    return ["", *(f"_{number}" for number in range(1, count))]


def _constant_of(graph: Any, constants: dict[str, Any], node: str) -> Any:
    """The constant among the inputs of a node."""
    (made,) = (n for n in graph.node if n.name == node)
    return next(constants[name] for name in made.input if name in constants)


def main(path: str) -> None:
    """Compare."""
    import onnxruntime

    from voicecheck.training.encoder import Encoder
    from voicecheck.training.head import Head, Listener

    net = Listener(Encoder(), Head())
    net.load_state_dict(parameters(Path(path)))
    sound = np.random.default_rng(0).standard_normal((1, 40_000)).astype(np.float32) * 0.05
    session = onnxruntime.InferenceSession(path, providers=["CPUExecutionProvider"])
    wanted = session.run(None, {"sound": sound})[0]
    with torch.no_grad():
        found = net.eval()(torch.from_numpy(sound)).numpy()
    print(
        f"mean distance of log posteriors {np.abs(found - wanted).mean():.3f}, best phone the same "
        f"in {np.mean(found.argmax(-1) == wanted.argmax(-1)):.1%} of frames"
    )


if __name__ == "__main__":
    main(*sys.argv[1:])

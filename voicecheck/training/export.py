"""The trained weights as one ONNX file that onnxruntime runs on any processor.

    python -m voicecheck.training.export WEIGHTS ONNX

Matrices become 8 bit (dynamic quantisation), the weights of convolutions half floats that the
runtime widens once while loading. Input "sound": (1, samples) at 16 kHz, -1 to 1; output
"posteriors": (1, frames, 40), natural logarithms (see voicecheck.speech.ctc).
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any, Final

import numpy as np
import torch

from voicecheck.training.encoder import Encoder
from voicecheck.training.head import Head, Listener

INPUT: Final = "sound"
OUTPUT: Final = "posteriors"
_OPSET: Final = 17
_LARGE: Final = 50_000
"""Numbers in a convolution from which its weights are halved."""


def listener(weights: Path) -> Listener:
    """Ready to hear."""
    net = Listener(Encoder(), Head())
    state = torch.load(weights, map_location="cpu", weights_only=True)
    net.load_state_dict({name: value.float() for name, value in state.items()})
    return net.eval()


def export(weights: Path, target: Path) -> None:
    """Write the ONNX file."""
    from onnxruntime.quantization import QuantType, quantize_dynamic

    net = listener(weights)
    with tempfile.TemporaryDirectory() as folder:
        whole, quantised = Path(folder, "whole.onnx"), Path(folder, "quantised.onnx")
        torch.onnx.export(
            net,
            (torch.randn(1, 32_000) * 0.05,),
            str(whole),
            input_names=[INPUT],
            output_names=[OUTPUT],
            dynamic_axes={INPUT: {1: "samples"}, OUTPUT: {1: "frames"}},
            opset_version=_OPSET,
            dynamo=False,
        )
        quantize_dynamic(
            whole,
            quantised,
            per_channel=True,
            weight_type=QuantType.QInt8,
            op_types_to_quantize=["MatMul"],
        )
        _halve_convolutions(quantised, target)


def _halve_convolutions(source: Path, target: Path) -> None:
    import onnx
    from onnx import TensorProto, helper, numpy_helper

    model: Any = onnx.load(source)
    graph = model.graph
    used = {node.input[1] for node in graph.node if node.op_type == "Conv"}
    widened = []
    for constant in graph.initializer:
        if constant.name not in used or np.prod(constant.dims) < _LARGE:
            continue
        name, small = constant.name, f"{constant.name}_half"
        values = numpy_helper.to_array(constant).astype(np.float16)
        constant.CopyFrom(numpy_helper.from_array(values, small))
        widened.append(helper.make_node("Cast", [small], [name], to=TensorProto.FLOAT))
    nodes = [*widened, *graph.node]
    graph.ClearField("node")
    graph.node.extend(nodes)
    onnx.save(model, str(target))


def main(weights: str, target: str) -> None:
    """Export, and tell how far the result lies from the floats."""
    import onnxruntime

    export(Path(weights), Path(target))
    sound = np.random.default_rng(0).standard_normal((1, 40_000)).astype(np.float32) * 0.05
    session = onnxruntime.InferenceSession(target, providers=["CPUExecutionProvider"])
    found = session.run(None, {INPUT: sound})[0]
    with torch.no_grad():
        wanted = listener(Path(weights))(torch.from_numpy(sound)).numpy()
    print(
        f"{Path(target).stat().st_size / 1e6:.1f} MB; mean distance of log posteriors "
        f"{np.abs(found - wanted).mean():.3f}, best phone the same in "
        f"{np.mean(found.argmax(-1) == wanted.argmax(-1)):.1%} of frames"
    )


if __name__ == "__main__":
    main(*sys.argv[1:])

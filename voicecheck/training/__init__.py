"""The training room: from package names to the weights of a listener of our own.

Nothing here runs in a session, and the wheel leaves it out. What needs an accelerator (`encoder`,
`head`, `bank`, `noises`, `train`, `export`) imports numpy, torch and onnx alone and nothing of the
other rooms, so that it runs on a machine that has only these. docs/listener.md tells the order.
"""

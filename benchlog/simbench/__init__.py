"""The simulated bench: the far end of every wire, for the demo, the tests and the benchmark.

In:  bytes on its wires (SCPI over TCP, a serial handheld, a pumped relay line, a control port), and
     the truth: resources/simbench/EXAMPLE.toml, changed by resources/simbench/faults/FAULT.toml.
Out: replies a moment later, as instruments give them, and a witness: one JSON line for each reply
     sent, command received, contact moved, with its own monotonic time stamp.

A program of its own (`python -m benchlog.simbench`). It shares no code and no formula with the near
end and imports only errors, resources, numpy and the standard library, so that agreement between
both ends means something. It may touch no file but its truth, its witness and a bench file asked for.

A new fault is a new file in resources/simbench/faults; new physics is a new field of a truth record.
"""

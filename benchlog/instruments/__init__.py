"""Bytes to readings: how to talk to a meter or a supply, and to whom.

In come bench files and profiles (data from people), an address, and bytes from a wire.
Out go frozen `Reading`s, a supply's settings and states read back, and the bytes of a cut.

The dialogue (`framer`, `dialogue`, `decode`, `stream`) does no I/O and has no clock: bytes and
monotonic nanoseconds come in, bytes to send and readings come out. The links own the wire; only
`link_serial` knows pyserial, and `link_visa`, the program of a process of its own, pyvisa. `meter`,
`stream_meter` and `supply_meter` bring both together in slices that never block longer than they were
told; nothing here starts a thread that lasts.

May use domain, textfile, resources, errors. Knows nothing of plan, guard, store or recorder. A
lost, late or unreadable reply never becomes a number, and never answers the next question.
"""

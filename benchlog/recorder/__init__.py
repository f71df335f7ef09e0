"""The recorder: a process of its own that owns the instruments, guards a run and writes its session.

In come requests of one client over a pipe, and bytes from the instruments; out go the same
objects the `--json` stream shows, rows for the session file, and the cut. One thread an instrument
reads, decodes and judges each reading under one lock without any I/O; what a cut needs beyond
that is done by a thread for each off-switch; one thread writes; one looks at the clock every 50 ms.

It is the only one that writes to a source. No Qt, no scipy, nothing of report or electronics, and it never
edits the library. Its client (client.py) is free of Qt and used by window and commands alike.
Start reading at process.py, then run.py, and intake.py for the way of a reading.
"""

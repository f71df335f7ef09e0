"""The window: the only room that knows Qt.

In comes what the recorder publishes (through its client) and what the store holds; out go requests of
the operator, and pictures. Nothing on the GUI thread touches a file, SQLite or a fit: a library thread
writes, a history thread reads (the newest request wins), a reader thread of the client hears the recorder,
and all of them come back as queued signals.

Each page is a file or a folder of its own; `app.py` makes everything once and hands it on as one `Work`.
`words.py` holds what is shown, `look.py` colours, fonts and sizes, `keys.py` every key. What can be worked
out without Qt (what a run stands at, where a value lies on a ruler) lives in files without Qt beside.
It may not touch instruments (but for reading profile, address and bench files) nor the recorder (but for
its client), and it never decides about limits: the recorder does.
"""

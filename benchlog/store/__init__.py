"""The library folder and the session files: the only room that knows SQLite.

In come records of a unit and its parts, readings, events and remarks; out go the same records,
and series of readings as numpy arrays. A library is a folder: `library.db`, one file per session
under `sessions/`, and what belongs to them.

`append` writes a live session and belongs to the recorder alone; `library`, `edit` and `sweep`
write for the holder of `library.lock` and are never the recorder's; the query files read, opening
and closing per request, so that no idle reader keeps a session from being folded. Every write is
one durable commit or nothing. SQLite's own exceptions become `StoreError` in `opening`.

No Qt, no scipy, no arithmetic of the trade; nothing here decides what a reading means.
"""

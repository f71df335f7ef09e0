"""Records and deciders: what a value, a reading, a limit and a verdict are, and what follows from them.

In come text a person typed, readings of instruments, and what a unit, plan or bench file says.
Out go frozen records and decisions: a quantity, a verdict with its one sentence, a guard's trip,
the next stage.

Nothing here has a clock, reads or writes a file, or talks to anything: whoever calls passes the
time and the text in. Standard library and numpy only, and no numpy where a command must start
fast (values and verdicts). Bad input raises `BadInput`; every other exception is a bug.
"""

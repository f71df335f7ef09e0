"""What `scripts/benchmark.py` measures, one file a topic.

In: the real program, as processes of its own, on a far end without a model or on the simulated bench.
Out: lines of a table, each with its goal, its rival and whether it was met. Times come from the far
end's witness wherever it can tell them. Nothing here is asserted by a test: a slow machine fails nobody.
"""

"""One short file per subcommand of `benchlog`.

In:  the arguments a person typed, already parsed.
Out: what it prints, and an exit status: 0 done, 3 tripped or not proven off, 4 ended by the operator (2
     and 1 are given by the entry, from a BenchlogError and from anything else).

Each file has two functions: `add_arguments(parser)` declares its options, `run(args) -> int` does the
work. `args.library` is there in every command: the folder given by --library, or None. The table in
`benchlog/__main__.py` names each file, so that only the one asked for is loaded.

A command may use every room below it. It holds no rule of its own: what it decides belongs in domain,
what it talks to in instruments or recorder, what it keeps in store. It never imports another command: what
several share has a file of its own here that is not in the table.
"""

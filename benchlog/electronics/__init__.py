"""The trade's arithmetic, each formula with its source: curves through readings, lamp, idle, heat.

In come numbers: times and readings of a trace, volts, ohms, watts. Out go frozen results that say how sure they
are: a value with its interval and the share of cases in which it holds, or the reason why there is none. A curve
that is bad, or converged on the wrong one, is said to be bad and carries no number.

Nothing here has a clock, a file or a screen. numpy and scipy, and of benchlog the domain. scipy loads slowly: only
`fitting`, `decay`, `settling`, `discharging` and `reforming` stand on it, and who must start or guard fast asks the
process in `__main__.py`, by the questions of `asked.py`, instead of importing them. The recorder, the store and
the instruments may know nothing of this room, and the window none of what loads scipy.
"""

"""The alarm: a small process that is heard when something must be switched off by hand.

Comes in: lines on standard input (`beat`, `sound`, `quiet`, `guard on`, `guard off`, `quit`), the
path of the sound as an argument, and a command that may stand in the player's place.
Goes out: the sound, through the platform's own player or the terminal's bell; lines on standard
output that say which player was found and when sounding started and stopped.
It sounds when it is told to, and by itself when its master, the recorder, falls silent or dies
while the guard is on. It is started by the recorder and outlives it.
It may touch the standard library alone, nothing else of benchlog, and no file but the sound.
"""

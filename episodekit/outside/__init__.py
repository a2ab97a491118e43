"""The doors to the world: files, ffmpeg, fonts, workers. Nothing else in the program touches them.

In: values from the rooms and paths. Out: values, and files that appear whole or not at all. Never: a
decision about beats, shots or chapters. Foreign failures are translated here once, into the exceptions
of `errors.py`; a bad camera file is normal work and comes back as a finding.
"""

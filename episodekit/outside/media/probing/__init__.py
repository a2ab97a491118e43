"""What does a camera file or a recording say about itself? Read in process through PyAV, hardly anything decoded.

In: a path. Out: a `Clip` with findings (`probe.py`), where private frames end (`edges.py`), loudness (`audio.py`).
Never: a write, a picture for the draft.
"""

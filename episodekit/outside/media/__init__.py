"""The media door: camera files are read here, and the draft is rendered here.

In: paths of camera files; a `Timeline` and its clips. Out: `Clip` values with findings; a draft file.
Never: a write into the footage, a decision about what to show.

- `probe.py` reads what a camera file says about itself (PyAV, in process, nothing decoded but a frame).
- `pieces.py` cuts a timeline into pieces that can be rendered apart; pure.
- `decoding.py`, `picture.py`, `sound.py`, `delivery.py` say what ffmpeg shall do; pure, tested without running it.
- `ffmpeg_door.py` runs it: the only importer of ffmpeg-python and imageio-ffmpeg.
- `engine.py` puts them together, with `cache.py` keeping what need not be rendered again.
"""

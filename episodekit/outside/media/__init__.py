"""The media door: camera files are read here, and the draft is rendered here.

In: paths of camera files; a `Timeline` and its clips. Out: `Clip` values with findings; a draft file.
Never: a write into the footage, a decision about what to show.

`engine.py` renders a draft: it asks `recipes/` what ffmpeg shall do, has `rendering/` do what the cache lacks, and
`checks/` look at the result. `ffmpeg_door.py` runs ffmpeg: the only importer of ffmpeg-python and imageio-ffmpeg.
`probing/` reads camera files, `drawing/` draws cards and overlays, `flashes/` counts flashes, `proving/` watches
finished videos.
"""

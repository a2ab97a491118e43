"""What shall ffmpeg do? A timeline is cut into pieces, and each becomes arguments; nothing is run here.

In: a `Timeline`, its clips, a quality. Out: pieces (`pieces.py`) and the commands that make them. Never: a process,
a disk.
"""

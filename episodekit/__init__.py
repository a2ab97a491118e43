"""episodekit: a job folder becomes a timed shot list, a narration script and a draft that plays."""

__version__ = "0.1.0"

"""`python -m episodekit`."""

from episodekit.cli import main

main()

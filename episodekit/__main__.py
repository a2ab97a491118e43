"""`episodekit` and `python -m episodekit`."""

from __future__ import annotations

import signal


def main() -> None:
    """Load the program and run it. Loading takes a second or so; Ctrl-C meanwhile ends it without a word."""
    asked = signal.getsignal(signal.SIGINT)
    if asked is signal.default_int_handler:  # a shell in the background ignores Ctrl-C, which stays so
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from episodekit.cli import main as run

    signal.signal(signal.SIGINT, asked)
    run()


if __name__ == "__main__":
    main()

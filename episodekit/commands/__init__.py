"""One file a command: read the options, call one function, print, exit. No thinking in here."""

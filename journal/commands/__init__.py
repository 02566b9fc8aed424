"""Commands: every way in.

Owns options, questions, progress, exit codes; a file or folder for each command.
Stands on all rooms below.
Never enters: arithmetic, decisions about privacy.
"""

"""``python -m voicecheck`` is the same as ``voicecheck``."""

from voicecheck.cli import main

main()

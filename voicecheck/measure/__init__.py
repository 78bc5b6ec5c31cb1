"""Corpora, noise and statistics: how well voicecheck hears and how fast it is."""

"""The conductor: the one place where sound, engine, voice, journal and display meet."""

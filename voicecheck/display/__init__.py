"""Mirrors of a session for the eye; they decide nothing."""

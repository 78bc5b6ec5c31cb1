"""Devices, sources of sound, levels and playback; never words."""

"""Staged crews: scripts of what is said, made into recordings with known truth."""

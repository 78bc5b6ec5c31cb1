"""Simulated aircraft and crews for training and proof, and staged crews for recordings."""

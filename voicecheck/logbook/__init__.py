"""The logbook: what a folder of sessions says, and whether it is still what was written."""

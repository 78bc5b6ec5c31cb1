"""Words to sound; never the checklist."""

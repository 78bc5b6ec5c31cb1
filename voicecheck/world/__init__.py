"""The simulated world: aircraft, people, noise, sound card, and the one loop through a session."""

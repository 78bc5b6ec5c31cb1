"""How a timed window behaves from session to session: control chart, slope, days to its limit."""

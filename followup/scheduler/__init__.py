"""One in-memory tick that drives planning, sending and escalation; it holds no state."""

"""An invented practice at work, for looking at and for proof: real mail, an injected clock, nothing of it canned."""

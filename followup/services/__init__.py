"""Use cases: each owns its transactions; none is open during network I/O."""

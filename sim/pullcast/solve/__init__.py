"""March networks: one cycle, until it repeats, over speeds, in parallel."""

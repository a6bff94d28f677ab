"""Measured pulls: reading messy files, the session card, correction to a named basis."""

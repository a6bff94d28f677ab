"""pullcast: forecast a dyno pull from an engine card."""

__version__ = "0.1.0"

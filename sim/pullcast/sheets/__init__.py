"""TOML sheets, whatever card they hold: read safely, with the line of every key (``files``, ``lines``)."""

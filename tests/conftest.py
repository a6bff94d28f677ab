"""Make ``tests/engines.py`` importable by name; no time limits in property tests (first calls compile)."""

import sys
from pathlib import Path

from hypothesis import settings

sys.path.insert(0, str(Path(__file__).parent))
settings.register_profile("pullcast", deadline=None, derandomize=True)
settings.load_profile("pullcast")

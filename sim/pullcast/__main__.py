"""``python -m pullcast``: the same as the ``pullcast`` command."""

import sys

from pullcast.cli import main

if __name__ == "__main__":
    sys.exit(main())

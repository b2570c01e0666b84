"""Run as ``python -m limbwright.cli``."""

import sys

from limbwright.cli import main

if __name__ == "__main__":
    sys.exit(main())

"""`python -m flatcut` is the command `flatcut`."""

import sys

from flatcut.cli import main

sys.exit(main())

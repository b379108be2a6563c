"""``python -m liveassist``."""

import sys

from liveassist.cli import main

sys.exit(main())

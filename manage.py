#!/usr/bin/env python3
"""The workshop's one door from the command line: `open`, `test`, and every Django command."""

import sys

# This file alone must be readable by a Python too old to run the rest.
if sys.version_info < (3, 11):
    sys.exit(
        "Strandwork needs Python 3.11 or newer, and this is Python {}.{}.{}. "
        "Install a newer one and run the same line with it, for example: "
        "python3.11 manage.py open".format(*sys.version_info[:3])
    )

from workshop.setting_up import main

if __name__ == "__main__":
    sys.exit(main(sys.argv))

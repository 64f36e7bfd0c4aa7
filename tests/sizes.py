"""Fails when a source file or a template has grown past what one subject needs."""

import pathlib
import sys

LIMITS = {"server/**/*.rs": 500, "templates/**/*.html": 120}
TOO_LONG = [
    f"{path}: {lines} lines, at most {limit}"
    for pattern, limit in LIMITS.items()
    for path in sorted(pathlib.Path(".").glob(pattern))
    if (lines := len(path.read_text(encoding="utf-8").splitlines())) > limit
]
print("\n".join(TOO_LONG) or "every file holds one subject")
sys.exit(bool(TOO_LONG))

"""`python -m lagwise.synthetic [FOLDER]`: write the shipped caseloads again; their bytes must not change."""

from __future__ import annotations

import sys
from pathlib import Path

from lagwise.synthetic.folder import files, put

SHIPPED = ("clinic", "no_effect", "changes", "changes_no_effect")


def main(root: Path) -> None:
    """Write every shipped caseload below `root`, with seed 1."""
    for kind in SHIPPED:
        print(put(files(kind, 1), root / kind))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("data_synthetic"))

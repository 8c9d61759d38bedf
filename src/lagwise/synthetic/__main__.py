"""`python -m lagwise.synthetic [FOLDER]`: write the shipped caseloads again; their bytes must not change."""

from __future__ import annotations

import sys
from pathlib import Path

from lagwise.synthetic.folder import files, put
from lagwise.synthetic.messy import messy

SHIPPED = ("clinic", "no_effect")
MESSY = "messy"


def main(root: Path) -> None:
    """Write every shipped caseload below `root`, with seed 1, and the raw exports with their list of faults."""
    for kind in SHIPPED:
        print(put(files(kind, 1), root / kind))
    print(put(messy(), root / MESSY))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("data_synthetic"))

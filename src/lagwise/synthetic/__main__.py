"""`python -m lagwise.synthetic [FOLDER]`: write the shipped caseloads and the stored truths again, whose
bytes must not change; with `--zip FILE [--seed N]` one clinic as a file to hand out.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from pathlib import Path

from lagwise.synthetic import truth
from lagwise.synthetic.caseloads import KINDS, study_of
from lagwise.synthetic.folder import files, put, zipped

SHIPPED = ("clinic", "no_effect", "changes", "changes_no_effect")


def main(root: Path) -> None:
    """Write every shipped caseload below `root`, with seed 1."""
    for kind in SHIPPED:
        print(put(files(kind, 1, anew=True), root / kind))


def truths() -> bytes:
    """The file `truth.STORED`: true values of every kind that is not about changes."""
    kinds = [(kind.spec, study_of(kind)) for kind in KINDS.values() if not kind.changes]
    found = [truth.stored(truth.true_values(spec, study, anew=True), study) for spec, study in kinds]
    return (json.dumps(found, indent=1) + "\n").encode()


def hand_out(file: Path, seed: int) -> str:
    """Write the clinic of a seed as a zip file; its SHA-256 checksum."""
    data = zipped("clinic", seed)
    put({file.name: data}, file.parent)
    return hashlib.sha256(data).hexdigest()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m lagwise.synthetic")
    parser.add_argument("folder", nargs="?", type=Path, default=Path("data_synthetic"))
    parser.add_argument("--zip", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    if asked.zip:
        print(hand_out(asked.zip, asked.seed), "", asked.zip.name)
    else:
        main(asked.folder)
        put({truth.STORED: truths()}, Path(truth.__file__).parent)

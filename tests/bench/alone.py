"""Imported first by what measures or simulates: one thread a library, and what the tests share on the path."""

import os
import sys
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("models", "challenges", "")]

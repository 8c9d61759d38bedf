"""Run every benchmark and long simulation beside this file, one after the other, and print what each prints."""

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def main() -> int:
    scripts = sorted(
        p for p in HERE.glob("*.py") if p.name != Path(__file__).name and "__main__" in p.read_text("utf-8")
    )
    failed = []
    for script in scripts:
        print(f"\n== {script.stem} ==", flush=True)
        if subprocess.run([sys.executable, str(script)], check=False).returncode:
            failed.append(script.stem)
    if failed:
        print(f"\nDid not finish: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

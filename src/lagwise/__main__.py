"""`python -m lagwise`: the same as the command `lagwise`."""

from lagwise.cli import app

if __name__ == "__main__":
    app(prog_name="lagwise")

"""Run the command line: ``python -m greasecheck``."""

from greasecheck.cli import main

if __name__ == "__main__":
    main()

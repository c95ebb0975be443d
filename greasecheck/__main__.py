"""Run the command line: ``python -m greasecheck``."""

if __name__ == "__main__":  # worker processes import this module, too, and need no commands
    from greasecheck.cli import main

    main()

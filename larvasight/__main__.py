"""Start larvasight: commands when there are arguments, the window otherwise."""

import sys


def main() -> None:
    """Open the window, or run the command line, and end with the exit status."""
    if len(sys.argv) > 1:
        from larvasight.cli.main import run

        raise SystemExit(run())
    from larvasight.app.main import run_window

    raise SystemExit(run_window(sys.argv))


if __name__ == "__main__":
    main()

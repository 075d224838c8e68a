"""Start larvasight: commands when there are arguments, the window otherwise."""

from larvasight.cli.main import run


def main() -> None:
    """Run the command line and end with its exit status."""
    raise SystemExit(run())


if __name__ == "__main__":
    main()

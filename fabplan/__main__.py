"""`python -m fabplan`, and the installed command."""

from __future__ import annotations

from fabplan.screen.interrupt import Interrupt


def main() -> None:
    """Run the command line; Ctrl-C is looked after before anything large is read in."""
    Interrupt().install()
    from fabplan import cli

    cli.main()


if __name__ == "__main__":
    main()

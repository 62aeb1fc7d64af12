"""`trubshoot`, and `python -m trubshoot`."""

from __future__ import annotations

from typing import NoReturn

from trubshoot.cli.exits import FAILED, FINE, INTERRUPTED
from trubshoot.cli.process import leave, prepare


def main() -> NoReturn:
    """Run the command line and end the process with its exit code."""
    code = FINE
    try:
        prepare()
        from trubshoot.cli.app import main as run

        run()
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else FAILED if ended.code else FINE
    except KeyboardInterrupt:
        code = INTERRUPTED
    leave(code)


if __name__ == "__main__":
    main()

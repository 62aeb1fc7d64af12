"""What the exit codes mean; docs/reference/commands.md lists them."""

FINE = 0
FAILED = 1  # trubshoot's own failure
BAD_INPUT = 2
HAZARD = 3  # a hazard at WARNING or above, or HOLD
INTERRUPTED = 130  # ctrl-C, as shells have it

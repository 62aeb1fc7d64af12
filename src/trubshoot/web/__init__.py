"""The pages for a browser: a small server for one folder of batch files. Loaded by `web` only."""

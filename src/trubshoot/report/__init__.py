"""Reports: each only reads the result object."""

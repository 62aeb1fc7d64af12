"""trubshoot: find out what went wrong with a home-brewed kit beer, and whether it may be bottled."""

__version__ = "0.1.0"

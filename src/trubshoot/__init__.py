"""trubshoot: what went wrong with a home-brewed kit beer, and may it be bottled."""

__version__ = "0.1.0"

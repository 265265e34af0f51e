"""The larger commands, one a module."""

"""cardwright: pocket reference cards in which every number was computed, cross-checked, and can be traced to its source."""

__version__ = "0.1.0"

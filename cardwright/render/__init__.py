"""Rendering: charts to HTML, PDF, the audit and edition.json. Nothing here makes a number."""

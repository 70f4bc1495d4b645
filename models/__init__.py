"""Weights that travel with the package; read as data, never imported for code."""

"""Data sets, training and evaluation of the models."""

#!/usr/bin/env python3
"""Measure a model on photos with known truth; see --help."""

from tillercount.train.evaluate import main

if __name__ == "__main__":
    raise SystemExit(main())

"""``python -m tillercount``."""

from tillercount.cli import main

if __name__ == "__main__":
    main()

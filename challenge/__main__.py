"""``python -m challenge``."""

from challenge.commands import main

if __name__ == "__main__":
    main()

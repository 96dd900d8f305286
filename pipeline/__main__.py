"""``python -m pipeline`` is the same as ``kerfbook``."""

from pipeline.cli import main

if __name__ == "__main__":
    main()

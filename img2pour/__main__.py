"""Run the command line with ``python -m img2pour``."""

from img2pour.cli import main

if __name__ == "__main__":
    main(prog_name="img2pour")

"""The local page: the same work and the same job file as the command line, in a browser."""

"""The job: what is wanted, as a value, and its TOML file."""

"""The build folder and what is intended: build.toml, read, checked and edited."""

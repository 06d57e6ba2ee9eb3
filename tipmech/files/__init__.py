"""Reading and checking TOML: the only place where users' units come in. Floor 5."""

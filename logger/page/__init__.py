"""The page: one local web app that calls the same functions as the commands. `fallbook serve` starts it."""

"""Commands for instructors and authors; :mod:`simkit.cli` names them."""

# wanted: Wrong is not a design.
# advice: Give a class that inherits from Design, or an instance of one.
from simkit.lang import *


class Wrong:
    n = 3

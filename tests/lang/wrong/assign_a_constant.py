# wanted: self.limit is a constant: it was fixed when the design was built.
# advice: Declare limit = Reg(…) for a value that changes.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    limit = 3

    @clocked
    def go(self):
        self.limit = 4  # <-

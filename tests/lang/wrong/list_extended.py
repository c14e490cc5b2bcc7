# wanted: self.table is a constant: it was fixed when the design was built.
# advice: Declare table = Reg(…) for a value that changes.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    table = [1, 2, 3]

    @clocked
    def go(self):
        self.table += [self.n]  # <-

# wanted: [1, 2, 3] has no element 5 (list index out of range).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    table = [1, 2, 3]

    @clocked
    def go(self):
        self.n = self.table[5]  # <-

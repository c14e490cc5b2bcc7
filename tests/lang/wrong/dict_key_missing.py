# wanted: {'a': 1} has no element 'x' ('x').
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    table = {'a': 1}

    @clocked
    def go(self):
        self.n = self.table['x']  # <-

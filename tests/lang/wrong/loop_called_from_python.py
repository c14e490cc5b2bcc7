# wanted: go is @clocked: it is hardware and cannot be called from Python.
# advice: Load the design on a bench and run that; loops and operations of a
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    @clocked
    def go(self):
        self.n = self.n + 1


Wrong().go()  # <-

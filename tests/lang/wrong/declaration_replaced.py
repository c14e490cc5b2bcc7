# wanted: n is declared as Reg and cannot be replaced from Python.
# advice: Give its start value where it is declared; loops assign to it inside
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))

    def __init__(self):
        self.n = 3  # <-

    @clocked
    def go(self):
        self.n = self.n + 1

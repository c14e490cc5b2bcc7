# wanted: go is defined already, as @clocked; the second definition would replace
# advice: Give one of them another name.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))

    @clocked
    def go(self):
        self.n = self.n + 1

    @clocked
    def go(self):  # <-
        self.m = self.m + 1

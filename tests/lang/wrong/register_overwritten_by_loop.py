# wanted: go is defined already, as Reg; the second definition would replace it.
# advice: Give one of them another name.
from simkit.lang import *


class Wrong(Design):
    go = Reg(unsigned(8))

    @clocked
    def go(self):  # <-
        self.go = 1

# wanted: a function inside a loop is not part of the language.
# advice: Make it a @combinational function or an @operation of the class.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        def f(x):  # <-
            return x + 1
        self.n = f(self.n)

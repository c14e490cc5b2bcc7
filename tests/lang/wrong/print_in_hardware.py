# wanted: print() makes text; wires carry numbers.
# advice: Record the signal when you run the design and print it in Python.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        print(self.n)  # <-

# wanted: text cannot exist in hardware: wires carry numbers.
# advice: Record signals and format them in Python.
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.n = f"{self.n}"  # <-

# wanted: a dictionary cannot exist in hardware.
# advice: Keep constants in the design's __init__; keep changing values in Regs
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        x = {"a": self.n}  # <-
        self.m = x["a"]

# wanted: m is unsigned(8): 300 does not fit unsigned(8), which holds 0 to 255.
# advice: Take a type that reaches further, such as unsigned(9).
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        for i in range(3):
            for j in range(3):
                if self.n == 3:
                    break
            self.n = i
            self.m = i + 300  # <-

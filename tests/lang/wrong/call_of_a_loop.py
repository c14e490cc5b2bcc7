# wanted: go is a clocked loop; loops run side by side and cannot be called.
# advice: Pass values between loops through registers or queues; mark shared
from simkit.lang import *


class Wrong(Design):
    n = Reg(unsigned(8))
    m = Reg(unsigned(8))
    s = Reg(signed(8))
    lamp = DigitalOut("lamp")

    @clocked
    def go(self):
        self.go()  # <-

# wanted: drive is signed(16) and the value is signed(24): numbers outside -32768
# advice: Write resize(x, signed(16)), which keeps the sign bit and the lowest
from simkit.lang import *


class Wrong(Design):
    w = Reg(signed(24))
    drive = AnalogOut("fan A speed")

    @sequenced
    def go(self):
        self.drive.write(self.w)  # <-

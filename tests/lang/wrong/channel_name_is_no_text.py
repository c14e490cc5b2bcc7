# wanted: DigitalOut needs the name of a bench terminal, not 3.
# advice: Write for example DigitalOut("fan A bearing").
from simkit.lang import *


class Wrong(Design):
    lamp = DigitalOut(3)  # <-

    @clocked
    def go(self):
        self.lamp = 1

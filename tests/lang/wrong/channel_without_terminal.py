# wanted: DigitalOut: missing a required argument: 'terminal'.
# advice: It takes terminal, kind, reset.
from simkit.lang import *


class Wrong(Design):
    lamp = DigitalOut()  # <-

    @clocked
    def go(self):
        self.lamp = 1

# wanted: second: the terminal 'lamp' is driven by first already: two drivers on
# advice: Give each output a terminal of its own.
from simkit.lang import *


class Wrong(Design):
    first = DigitalOut("lamp")
    second = DigitalOut("lamp")  # <-

    @clocked
    def go(self):
        self.first = 1
        self.second = 0

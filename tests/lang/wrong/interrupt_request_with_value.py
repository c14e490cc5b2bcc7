# wanted: alarm.request takes no values, not 1.
from simkit.lang import *


class Wrong(Design):
    alarm = Interrupt()

    @clocked
    def go(self):
        self.alarm.request(1)  # <-

# wanted: nothing can be assigned to alarm: it is an Interrupt.
# advice: It offers alarm.pending, alarm.request(…).
from simkit.lang import *


class Wrong(Design):
    alarm = Interrupt()

    @clocked
    def go(self):
        self.alarm = 1  # <-

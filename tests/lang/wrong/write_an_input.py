# wanted: door is an input: the bench drives it.
# advice: Declare a DigitalOut to drive a line.
from simkit.lang import *


class Wrong(Design):
    door = DigitalIn("switch")

    @clocked
    def go(self):
        self.door = 1  # <-

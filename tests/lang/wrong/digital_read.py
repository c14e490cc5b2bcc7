# wanted: DigitalIn door has no 'read'.
# advice: Use it by its name alone: self.door.
from simkit.lang import *


class Wrong(Design):
    door = DigitalIn("switch")
    lamp = DigitalOut("lamp")

    @sequenced
    def go(self):
        v = self.door.read()  # <-
        self.lamp = v

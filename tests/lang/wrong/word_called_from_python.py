# wanted: resize() is hardware and works only inside a loop or an operation of a
from simkit.lang import *


x = resize(3, unsigned(8))  # <-

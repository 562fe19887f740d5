"""The battery and how it is measured."""

from cfgaudit.craft.declare import Class, Part
from cfgaudit.craft.fields import either, number, word

_C = Class.POWER


class Battery(Part):
    """The pack, its thresholds, and how it is measured."""

    chemistry = word(_C, "what the cells are made of", "lipo", "lihv", "liion")
    cells = either(_C, "cells in series", ("auto",), 1, 14)
    full_cell = number(_C, "a full cell", "V", 2, 5)
    warn_cell = number(_C, "warn below this", "V", 2, 5)
    empty_cell = number(_C, "the cell is empty below this", "V", 2, 5)
    detect_cell = number(_C, "highest cell voltage when counting cells", "V", 2, 5)
    voltage_from = word(_C, "where the pack voltage comes from", "adc", "esc", "none")
    current_from = word(_C, "where the current comes from", "adc", "esc", "none")
    divider = number(_C, "pack volts for each ADC volt", "", 1, 100, own=True)
    adc_reference = number(_C, "the ADC's full scale", "V", 0.5, 6)
    current_scale = number(_C, "millivolts for each ampere", "mV/A", -500, 500, own=True)
    current_offset = number(_C, "millivolts at no current", "mV", -5000, 5000, own=True)
    capacity = number(_C, "the pack's capacity", "mAh", 0, 100000)

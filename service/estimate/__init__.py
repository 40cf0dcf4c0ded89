"""`coatbell estimate CASE.toml`: how a mould would dry, without a running service, for "what if" and for checking.

A case is a TOML file; values carry their units. Every key, with what holds when it is left out::

    title = "Ship's bell"              # as you like to call it
    units = "metric"                   # or "us": how the table shows numbers

    recipe = "bell.toml"               # a recipe file beside the case, or the name of a recipe of the shop;
                                       # or else a list of coats, below

    [site]                             # sea level if left out
    altitude = "120 m"                 # or: pressure = "1002 hPa"

    [air]
    temperature = "20.7 degC"
    humidity = "45 %"
    speed = "0.6 m/s"                  # past the mould: 0.2 m/s in a still room, 1 to 2 m/s before a fan
    file = "shed.csv"                  # air that changes; a constant beside it holds over the file's column

    [air.columns]                      # only if the file's headers are not time, temperature, humidity, speed, pressure
    temperature = "T bench"

    [air.units]                        # only for columns whose header names no unit
    temperature = "degF"

    [[zones]]                          # one for each part that dries on its own clock
    name = "open face"
    height = "0.4 m"                   # what still air rises along
    width = "0.3 m"                    # what moving air goes round
    pocket = { depth = "80 mm", width = "40 mm", shape = "round" }     # or "slot"; only where air hardly moves

    [[coats]]                          # in the order they are given
    kind = "backup"                    # prime, backup or seal
    times = 6                          # so many of them; 1
    thickness = "1.1 mm"               # prime 0.6 mm, backup 1.1 mm, seal 0.3 mm
    porosity = "29 %"
    dry_density = "1650 kg/m3"
    immersion = "15 s"
    ready_saturation = "35 %"          # ready for the next dip once the new coat is this wet
    least_wait = "2 h"                 # none
    longest_wait = "6 h"               # none

    [dipping]                          # each coat when the one before it is ready, if left out
    first = "0 h"                      # when the first coat goes on
    at = ["0 h", "3 h", "1 day"]       # or else every coat at a given time; with a file that has dates, also dates
    then = "when ready"                # coats for which `at` has no time go on when the one before them is ready

    [[evidence]]                       # what was heard of a mould that hangs, one thing each; it counts with --spread
    at = "7 h"                         # since the first dip; with a file that has dates, also a date
    weight = "4.215 kg"                # as it hangs, hook and all: it is held against the weighing before it

    [[evidence]]
    at = "7 h"
    face = "18.2 degC"                 # of a zone, by an infrared gun or a thermocouple
    zone = "open face"                 # not needed where there is but one

    [[evidence]]
    at = "8 h"
    felt = "still damp"                # or "dry": the newest coat; with a zone, if it was felt there alone

    [[evidence]]
    shed = 1                           # coat 1 shed when the next was laid on it; held = 1: it did not

    [[evidence]]
    at = "10 h"
    changed = "wires set"              # weights before and after are not comparable

    [parameters]                       # any number of the drying model, as in drying.toml, its [coat] keys too;
    diffusivity = "4e-10 m2/s"         # what stands here holds over a recipe
    water_limit = "2 %"                # ready for dewax: water, of the dry shell's weight

The air file is comma, semicolon or tab separated, one line a moment, with a header such as
``time, temperature [degC], humidity [%], speed [m/s]`` (``temperature_degC`` and ``speed_m_s`` are read too). Time is a
date and hour, ``2026-03-01 14:00``, or hours from the start (``time [min]`` for minutes). Air between two lines goes
straight from one to the other; after the last line it stays as it was.
"""

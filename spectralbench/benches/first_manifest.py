"""The manifest that a new bench starts from: it explains itself, and every value in it is a placeholder."""

from __future__ import annotations

PLACEHOLDERS = "EVERY VALUE IN THIS FILE IS A PLACEHOLDER"
"""What a manifest says of itself until somebody takes the line away."""

FIRST_MANIFEST = (
    f"# A new bench. {PLACEHOLDERS}: put your own in, then take this line away.\n"
    + """\
#
# 1. Save the raw files of your instruments in raw/, under the names below or with the names changed here.
#    They are never changed. Most open layouts are read; "spectralbench inspect FILE" says how.
# 2. Write what you measured, with its unit. A "±" adds a standard uncertainty: "500 mm ± 0.5 mm".
# 3. "spectralbench compare ." lists all that is still missing or wrong, with key and line.
#
# A line that begins with "#" and a letter or bracket is optional: take the "#" away to use it.
# Light of this kind injures eyes and skin. Local codes, the makers' instructions and a qualified person
# decide how it is measured.

title = "A new bench (placeholder)"         # what is to be found out
#note = "placeholder"                       # anything a reader should know

[instrument]                                # the spectrometer; see its data sheet
name = "spectrometer (placeholder)"
full_scale = 65535                          # counts [1] that it can show at most: 65535 of 16 bits
pixels = 2048                               # samples [1] in one scan: rows of a raw file
bandwidth = "2.0 nm ± 0.1 nm"               # width [nm] at half height of a narrow line, as of a pen lamp
integration_times = ["2 ms", "5 ms", "10 ms", "20 ms", "500 ms"]   # all those of the frames below
#saturation = "95 %"                        # share of the full scale from where a pixel is not trusted

[[dark]]                                    # shutter closed, ten scans; one table for each integration time
frame = "raw/dark_2ms.csv"                  # for the times between, two are enough

[[dark]]
frame = "raw/dark_20ms.csv"

[[dark]]
frame = "raw/dark_500ms.csv"

[standard_lamp]                             # what the instrument is calibrated with
name = "standard lamp (placeholder)"
frame = "raw/standard_lamp.csv"             # ten scans of it, once it has warmed up as its certificate says
certificate = "raw/lamp_certificate.csv"    # spectral irradiance [W/m^2/nm] against wavelength [nm]
certified_distance = "500 mm ± 0.3 mm"      # from the lamp, in the certificate
distance = "520 mm ± 0.5 mm"                # at which it lit the entrance, measured as the certificate says

[[source]]                                  # a candidate; one table for each
name = "LED (placeholder)"
kind = "LED"                                # "LED", "arc" or "other"
frame = "raw/led.csv"                       # the entrance where the part will be, in the middle of the spot
#attenuator = "raw/attenuator.csv"          # transmittance [1] of what stood before the entrance, if any
distance = "12 mm ± 0.3 mm"                 # from the source to the entrance, and later to the part
#spot = "8 mm"                              # width of the spot at half of its highest irradiance
#profile = "raw/led_scan.csv"               # irradiance along position [mm], by a small head moved across
#filter = "none (placeholder)"              # what is built in
#electrical_power = "60 W"                  # while it is on, by a power meter at the plug
#hours = "500 h"                            # of use so far, by its counter
#end_of_life = "20000 h"                    # at which it is replaced
#stated_end_output = "70 %"                 # what is left then, by its maker

[[source]]
name = "arc (placeholder)"
kind = "arc"
frame = "raw/arc.csv"
#attenuator = "raw/attenuator.csv"
distance = "20 mm ± 0.5 mm"
#mercury = "25 mg"                          # in one lamp, by its maker
#lamp_price = 1.0                           # of a new one, in the currency of [running]
#disposal_price = 0.0                       # of a spent one

[[part]]                                    # what the light passes, outermost first; one table for each
name = "cover (placeholder)"
material = "clear polymer (placeholder)"    # in words
thickness = "2.0 mm ± 0.02 mm"              # where the light passes, by a micrometer
#index = "1.53 ± 0.005"                     # refractive index [1], for the face that the adhesive wets
#working_thickness = "3.0 mm ± 0.05 mm"     # if the part in use is not the one measured; needs index
#thermal = { conductivity = "0.2 W/m/K", density = "1.2 g/cm^3", heat_capacity = "1.3 J/g/K" }  # tables
sample = "raw/cover.csv"                    # scans of a steady lamp through the part
references = ["raw/reference_before.csv", "raw/reference_after.csv"]   # the same without it

[adhesive]
name = "adhesive (placeholder)"
bond_line = "0.15 mm ± 0.02 mm"             # thickness of the film, by a shim or a section
#bond_width = "3 mm"                        # across the spot; counts where it is lit least, by the profile
#index = "1.50 ± 0.01"                      # refractive index [1]
#thermal = { conductivity = "0.2 W/m/K", density = "1.1 g/cm^3", heat_capacity = "1.7 J/g/K" }
#reaction_heat = "180 J/g"                  # that the cure sets free, by calorimetry
#maximum_irradiance = "2.0 W/cm^2"          # that the adhesive should see, by its data sheet

[[adhesive.initiator]]                      # what starts the cure; one table for each
name = "initiator (placeholder)"
curve = "raw/initiator.csv"                 # decadic molar absorption coefficient [L/mol/cm], over the band
#reference = "…"                            # instead of curve: the name of a curve that comes with us
concentration = "0.02 mol/L ± 5 %"          # in the adhesive; ask its maker

#[[adhesive.absorber]]                      # what takes light and starts nothing: a resin, a pigment
#name = "resin (placeholder)"
#curve = "raw/resin.csv"                    # absorbance [1] of a layer without initiator
#layer = "1.0 mm ± 0.02 mm"                 # thickness of that layer
#in_data_sheet = true                       # whether the adhesive of the data sheet held it

[requirement]                               # what the light has to do at the bond line, by the data sheet
band = ["320 nm", "430 nm"]                 # limits between which irradiance and dose count
minimum_irradiance = "60 mW/cm^2"           # below which it does not set
dose = "1.8 J/cm^2"                         # irradiance times time that it needs
#data_sheet_wavelength = "365 nm"           # of the light for which the data sheet says so
#maximum_time = "30 s"                      # that the line allows for one exposure
#maximum_temperature = "85 °C"              # that part and adhesive bear; needs [heat]
#minimum_match = "5 %"                      # share of the light at the bond line that initiators use
#minimum_life = "1000 h"                    # that the source has to go on from today
#maximum_power = "300 W"                    # while it is on
#maximum_mercury = "0 mg"                   # in one lamp

#[heat]                                     # with thermal of parts and adhesive: temperatures
#ambient = "23 °C"                          # before the exposure
#loss = "10 W/m^2/K"                        # of both outer faces
#backing = { name = "base", thickness = "5 mm", thermal = { material = "soda-lime glass" } }  # behind it

#[safety]                                   # exposure limits where people may meet the beam
#distance = "1 m"                           # from the source; what is safe there, local codes decide

#[running]                                  # what a year costs, by your own prices
#hours_per_year = "2000 h"                  # that the bench is manned
#exposures_per_year = 150000                # LEDs are on while they expose
#energy_price = 0.1                         # of one kWh
#currency = "EUR"                           # of all prices

#[[radiometer]]                             # a log of a broadband radiometer, to hold against the spectra
#name = "radiometer (placeholder)"
#file = "raw/radiometer.csv"                # irradiance [mW/cm^2] against time [s]
#band = "as its label says"                 # kept as text and never trusted
#source = "arc (placeholder)"               # that it looked at
#distance = "20 mm"                         # from that source
#response = "raw/head_response.csv"         # relative response [1] of its head, by its certificate
#calibration_source = "raw/head_calibration.csv"   # of the lamp that calibrated it [1]
#calibration_target = ["320 nm", "430 nm"]  # band whose irradiance it was calibrated to show
#calibration_uncertainty = "3 %"            # standard uncertainty, half of an expanded one with k = 2
#calibrated = "2026-01-15"                  # by its certificate

#[[ageing]]                                 # a log of the output of a source
#source = "arc (placeholder)"               # which
#file = "raw/arc_ageing.csv"                # relative_output [%] against hours [h]

#[[uncertainty]]                            # a cause beside the ± above and the scatter of the scans
#name = "lamp calibration"
#input = "lamp irradiance"                  # what it falls on; also attenuator, transmittance, wavelength, …
#size = "1.2 %"                             # standard uncertainty; of a tolerance ±a it is a/√3
#relative = true                            # a share of the value; false: points of it
#distribution = "normal"                    # or rectangular, triangular, arcsine
#correlation = "full"                       # along the wavelength: none, full, or a length such as "20 nm"
#shared = true                              # one error for all sources
"""
)
"""TOML. Behind a ``#`` without a blank stands what is optional."""

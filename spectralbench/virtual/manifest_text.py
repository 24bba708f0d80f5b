"""The manifest of the demo bench."""

from __future__ import annotations

from spectralbench.virtual import beams, truth


def file_of(name: str) -> str:
    """The file of a source or an initiator, without its ending.

    Parameters
    ----------
    name : str
        What the manifest calls it.

    Returns
    -------
    str
        Lower case, without commas and spaces.

    Examples
    --------
    >>> file_of("arc, filtered")
    'arc_filtered'
    """
    return name.lower().replace(",", "").replace(" ", "_")


def manifest_text() -> str:
    """The manifest, with its comments; numbers come from the truth.

    Returns
    -------
    str
        TOML.

    Examples
    --------
    >>> manifest_text().count("[[source]]")
    5
    """
    blocks = [_HEAD]
    for source in truth.sources():
        lines = [
            "[[source]]",
            f'name = "{source.name}"',
            f'kind = "{source.kind}"',
            f'frame = "raw/{file_of(source.name)}.csv"',
            'attenuator = "raw/attenuator.csv"',
            f'distance = "{source.distance}"',
            f'spot = "{source.spot}"',
            f'profile = "raw/{file_of(source.name)}_scan.csv"  # across the beam, at the part',
        ]
        if source.kind == "LED":
            points = beams.led_beam(source).items()
            lines += [
                "beam = [  # by a radiometer that stayed the same",
                *[f'    {{ distance = "{at}", irradiance = "{value}" }},' for at, value in points],
                "]",
            ]
        if source.filter:
            lines.append(f'filter = "{source.filter}"')
        lines += [
            f'electrical_power = "{source.electrical_power}"',
            f'hours = "{source.hours}"',
            f'end_of_life = "{source.end_of_life}"',
        ]
        if source.mercury:
            lines.append(f'mercury = "{source.mercury}"  # in one lamp')
        lines += [f"lamp_price = {source.lamp_price}  # of a new one, invented"]
        lines += [f"disposal_price = {source.disposal_price}"]
        if source.stated_end_output:
            lines.append(f'stated_end_output = "{source.stated_end_output}"  # by its maker, not measured')
        blocks.append("\n".join(lines) + "\n")
    return "\n".join([*blocks, _TAIL])


_HEAD = """\
# A demo bench. All of it is invented: instrument, sources, part and adhesive.
# Every quantity carries its unit, and may carry a standard uncertainty: "500 mm ± 0.5 mm".

title = "Flow-cell cover: which light reaches the bond behind it?"
note = "Invented data from a virtual instrument. The adhesive's data sheet speaks of 365 nm."

[instrument]
name = "virtual array spectrometer"
full_scale = 65535                  # counts
pixels = 2048
bandwidth = "2.0 nm ± 0.1 nm"
integration_times = ["2 ms", "5 ms", "10 ms", "20 ms", "500 ms"]
saturation = "95 %"                 # of the full scale; from there a pixel is not trusted

[[dark]]
frame = "raw/dark_2ms.csv"

[[dark]]
frame = "raw/dark_5ms.csv"

[[dark]]
frame = "raw/dark_20ms.csv"

[[dark]]
frame = "raw/dark_500ms.csv"

[standard_lamp]
name = "standard lamp (invented)"
frame = "raw/standard_lamp.csv"
certificate = "raw/lamp_certificate.csv"
certified_distance = "500 mm ± 0.3 mm"
distance = "520 mm ± 0.5 mm"
"""

_TAIL = """\
[[part]]
name = "cover"
material = "clear polymer, stabilised against sunlight (invented)"
thickness = "2.0 mm ± 0.02 mm"
index = "1.53 ± 0.005"
thermal = { conductivity = "0.2 W/m/K", density = "1.2 g/cm^3", heat_capacity = "1.3 J/g/K" }
sample = "raw/cover.csv"
references = ["raw/reference_before.csv", "raw/reference_after.csv"]

[adhesive]
name = "adhesive (invented)"
bond_line = "0.15 mm ± 0.02 mm"
bond_width = "3 mm"                 # across the beam
index = "1.50 ± 0.01"               # so that the wetted back face of the cover counts
thermal = { conductivity = "0.2 W/m/K", density = "1.1 g/cm^3", heat_capacity = "1.7 J/g/K" }
reaction_heat = "180 J/g"           # of the cure itself
maximum_irradiance = "2.0 W/cm^2"

[[adhesive.initiator]]
name = "initiator A"
curve = "raw/initiator_a.csv"
concentration = "0.02 mol/L ± 5 %"

[[adhesive.initiator]]
name = "initiator B"
curve = "raw/initiator_b.csv"
concentration = "0.03 mol/L ± 5 %"

[[adhesive.absorber]]               # takes light and starts nothing
name = "resin (invented)"
curve = "raw/resin.csv"
layer = "1.0 mm ± 0.02 mm"          # in which its absorbance was measured
in_data_sheet = true                # the adhesive of the data sheet held it too

[requirement]
band = ["320 nm", "430 nm"]         # where irradiance and dose count
minimum_irradiance = "60 mW/cm^2"
dose = "1.8 J/cm^2"
data_sheet_wavelength = "365 nm"
maximum_time = "30 s"
maximum_temperature = "85 °C"
minimum_life = "1000 h"             # from today

[running]                           # invented prices
hours_per_year = "2000 h"           # that the bench is manned; arcs burn all the time
exposures_per_year = 150000         # LEDs are on while they expose
energy_price = 0.28
currency = "EUR"

[heat]                              # for the temperature after one exposure
ambient = "23 °C"
loss = "10 W/m^2/K"                 # of both outer faces, for each kelvin

[heat.backing]                      # what the cover is bonded to; it takes the light that gets there
name = "base plate"
thickness = "5 mm"
thermal = { conductivity = "0.9 W/m/K", density = "2.2 g/cm^3", heat_capacity = "0.8 J/g/K" }

[[radiometer]]
name = "bench radiometer (invented)"
file = "raw/head_readings.csv"
band = "UV"                         # kept as text and never trusted
source = "arc, filtered"
response = "raw/head_response.csv"  # of its head, from the certificate
calibration_source = "raw/head_calibration.csv"
calibration_target = ["320 nm", "430 nm"]   # it was calibrated to show the irradiance in this band
calibration_uncertainty = "3 %"
calibrated = "2025-11-03"

[[radiometer]]
name = "hand-held radiometer (invented)"
file = "raw/radiometer.csv"
band = "UV-A, as its label says; no response curve came with it"
source = "arc, filtered"

[[ageing]]
source = "arc"
file = "raw/arc_ageing.csv"

# The uncertainty budget, beside the ± above and the scatter of the scans. All of it is invented.

[[uncertainty]]
name = "lamp calibration"
input = "lamp irradiance"
size = "1.2 %"
correlation = "full"                # along the wavelength: "none", "full" or a length

[[uncertainty]]
name = "lamp interpolation"
input = "lamp irradiance"
size = "0.5 %"
correlation = "20 nm"

[[uncertainty]]
name = "attenuator"
input = "attenuator"
size = "1.0 %"
relative = true                     # a share of the value, not points
correlation = "50 nm"

[[uncertainty]]
name = "stray light and linearity"
input = "spectral irradiance"
size = "0.8 %"
distribution = "rectangular"
shared = true                       # one instrument: one error for all sources

[[uncertainty]]
name = "position of the part"
input = "transmittance"
size = "0.004"
relative = false                    # points of transmittance
correlation = "full"

[[uncertainty]]
name = "initiator curves"
input = "absorption coefficient"
size = "5 %"
correlation = "30 nm"

[[uncertainty]]
name = "resin curve"
input = "absorbance"
size = "3 %"
relative = true
correlation = "30 nm"

[[uncertainty]]
name = "wavelength scale"
input = "wavelength"
size = "0.1 nm"
distribution = "rectangular"
"""
